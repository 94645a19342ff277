import { useEffect, useState } from 'react';
import { pictureCame, wordsOf } from './loading.ts';
import { type Place, type SpectrogramTile, service } from './service.ts';

/** Tiles kept: moving back and forth asks for nothing again. */
const KEPT = 24;
const tiles = new Map<string, SpectrogramTile>();
/** A hand that drags through the day asks for more windows than can be looked at; a single step waits for nothing. */
const REST_MS = 25;
const STEADY_MS = 120;
let lastMoved = Number.NEGATIVE_INFINITY;

export interface TileState {
  /** Window that the tile is of. */
  readonly key: string;
  /** The tile of the window, or the last one while its own is on the way. */
  readonly tile: SpectrogramTile | null;
  readonly ready: boolean;
  readonly trouble: string | null;
}

const EMPTY: TileState = { key: '', tile: null, ready: false, trouble: null };

/** The spectrogram of a window; a request the page has moved on from is given up. */
export function useTile(place: Place, columns: number, highHz: number): TileState {
  const [state, setState] = useState<TileState>(EMPTY);
  const { recordingId, channel, fromS, toS } = place;
  const key = `${recordingId} ${channel} ${fromS} ${toS} ${columns} ${highHz}`;
  useEffect(() => {
    if (columns < 16 || toS <= fromS) return;
    const known = tiles.get(key);
    if (known !== undefined) {
      setState({ key, tile: known, ready: true, trouble: null });
      return;
    }
    const moving = new AbortController();
    const dragged = performance.now() - lastMoved < STEADY_MS;
    lastMoved = performance.now();
    const ask = () => {
      const asked = { recordingId, channel, fromS, toS };
      service.spectrogram(asked, columns, highHz, moving.signal).then(
        (tile) => {
          pictureCame();
          keepTile(key, tile);
          if (!moving.signal.aborted) setState({ key, tile, ready: true, trouble: null });
        },
        (error: unknown) => {
          pictureCame();
          if (!moving.signal.aborted) setState({ key, tile: null, ready: true, trouble: wordsOf(error) });
        },
      );
    };
    const timer = dragged ? setTimeout(ask, REST_MS) : undefined;
    if (!dragged) ask();
    return () => {
      clearTimeout(timer);
      moving.abort();
    };
  }, [recordingId, channel, fromS, toS, columns, highHz, key]);
  return { ...state, ready: state.ready && state.key === key };
}

function keepTile(key: string, tile: SpectrogramTile): void {
  tiles.set(key, tile);
  const [oldest] = tiles.keys();
  if (tiles.size > KEPT && oldest !== undefined) tiles.delete(oldest);
}
