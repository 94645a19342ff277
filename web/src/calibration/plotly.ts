import library from 'plotly.js-basic-dist';

/** The few words of the figure library that the page uses. */
interface Figure extends HTMLElement {
  readonly on: (
    name: 'plotly_click',
    listener: (event: { readonly points: readonly { readonly customdata?: unknown }[] }) => void,
  ) => void;
  readonly removeAllListeners: (name: string) => void;
}

interface FigureLibrary {
  readonly react: (element: HTMLElement, traces: object[], layout: object, config: object) => Promise<Figure>;
  readonly relayout: (element: HTMLElement, changes: object) => Promise<unknown>;
  readonly purge: (element: HTMLElement) => void;
  readonly Plots: { readonly resize: (element: HTMLElement) => void };
}

export const Plotly = library as FigureLibrary;
