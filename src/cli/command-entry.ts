import type { Command } from 'commander';

/** A command, in a file of its own that is read only when it is asked for. */
export interface CommandEntry {
  /** What `combtone --help` says of it: the description that the command gives of itself. */
  readonly summary: string;
  /** Heading under which it lists the command. */
  readonly group: string;
  readonly load: () => Promise<(program: Command) => void>;
}
