import { type RefObject, useEffect, useRef } from 'react';
import { Plotly } from './calibration/plotly.ts';

/** The element of a Plotly figure: the figure follows its size, and goes when it goes. */
export function useFigureField(): RefObject<HTMLDivElement | null> {
  const field = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const element = field.current!;
    const observer = new ResizeObserver(() => Plotly.Plots.resize(element));
    observer.observe(element);
    return () => {
      observer.disconnect();
      Plotly.purge(element);
    };
  }, []);
  return field;
}
