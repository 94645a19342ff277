/** One figure of a benchmark. */
export interface Figure {
  readonly name: string;
  readonly value: number;
  readonly unit: string;
}

/** A kind of measurement. One file each; `registry.ts` lists them. */
export interface Benchmark {
  readonly name: string;
  /** What is measured, in one line. */
  readonly about: string;
  readonly run: (bench: Bench) => Promise<Figure[]>;
}

/** What benchmarks share: recordings and runs that several need are made once. */
export interface Bench {
  /** Path of a simulated 16-bit mono recording at 44.1 kHz, so many seconds long. */
  readonly recording: (lengthS: number) => Promise<string>;
  /** `combtone detect` on that recording, in a process of its own. */
  readonly detect: (lengthS: number) => Promise<ChildRun>;
  /** The built command in a process of its own. */
  readonly combtone: (...args: readonly string[]) => Promise<ChildRun>;
  /** Path of a file beside `run.ts`, as it stands in the source. */
  readonly source: (name: string) => string;
  /** A script beside the benchmarks, in a process of its own. */
  readonly script: (name: string, ...args: readonly string[]) => Promise<ChildRun>;
}

/** What a finished process took. */
export interface ChildRun {
  /** From start to end, as a user waits. */
  readonly wallS: number;
  /** User and system time of all its threads. */
  readonly processorS: number;
  /** Largest resident set, MiB. */
  readonly peakMib: number;
}
