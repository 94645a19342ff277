import { InputError } from '../input-error.ts';

/** One of several parts of the same work, numbered from 1. */
export interface Shard {
  readonly number: number;
  readonly count: number;
}

/** @throws InputError for text that is not such as `2/5` */
export function parseShard(text: string): Shard {
  const match = /^([1-9]\d{0,4})\/([1-9]\d{0,4})$/.exec(text.trim());
  const shard = { number: Number(match?.[1]), count: Number(match?.[2]) };
  if (shard.number <= shard.count) return shard;
  throw new InputError({
    file: '--shard',
    found: JSON.stringify(text),
    wanted: 'number and count of shards, such as 2/5, from 1/5 to 5/5',
  });
}

/** Every `count`-th item, from the shard's number on: all shards together hold each once. */
export function shardOf<T>(items: readonly T[], { number, count }: Shard): T[] {
  return items.filter((_, index) => index % count === number - 1);
}
