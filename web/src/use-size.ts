import { type RefObject, useEffect, useState } from 'react';

export interface Size {
  readonly width: number;
  readonly height: number;
}

/** Size of an element in CSS pixels, kept up to date; 0 before it is known. */
export function useSize(element: RefObject<HTMLElement | null>): Size {
  const [size, setSize] = useState<Size>({ width: 0, height: 0 });
  useEffect(() => {
    const seen = element.current;
    if (seen === null) return;
    const observer = new ResizeObserver(() => {
      setSize({ width: seen.clientWidth, height: seen.clientHeight });
    });
    observer.observe(seen);
    return () => observer.disconnect();
  }, [element]);
  return size;
}

/** A canvas made ready to be drawn on in CSS pixels, sharp on any screen. */
export function sharpContext(canvas: HTMLCanvasElement, { width, height }: Size): CanvasRenderingContext2D {
  const ratio = window.devicePixelRatio || 1;
  const wide = Math.round(width * ratio);
  const high = Math.round(height * ratio);
  if (canvas.width !== wide || canvas.height !== high) {
    canvas.width = wide;
    canvas.height = high;
  }
  const context = canvas.getContext('2d')!;
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  return context;
}

/** A colour of the style sheet by name. */
export function colourOf(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}
