import library from 'plotly.js-basic-dist';

/** The few words of the figure library that the page uses. */
export interface Figure extends HTMLElement {
  readonly on: (
    name: 'plotly_click' | 'plotly_relayout',
    listener: (event: { readonly points: readonly { readonly customdata?: unknown }[] }) => void,
  ) => void;
  readonly removeAllListeners: (name: string) => void;
}

interface FigureLibrary {
  readonly react: (element: HTMLElement, traces: object[], layout: object, config: object) => Promise<Figure>;
  readonly restyle: (element: HTMLElement, changes: object, traces: readonly number[]) => Promise<unknown>;
  readonly relayout: (element: HTMLElement, changes: object) => Promise<unknown>;
  readonly purge: (element: HTMLElement) => void;
  readonly Plots: { readonly resize: (element: HTMLElement) => void };
}

export const Plotly = library as FigureLibrary;
