/** What the call of `combtone detect` gives beside the recordings. */
export interface DetectOptions {
  readonly out?: string;
  readonly study?: string;
  readonly band?: readonly [number, number];
  readonly channel?: number;
  readonly confidence?: number;
  readonly start?: string;
  readonly threads?: number;
  readonly json?: boolean;
}
