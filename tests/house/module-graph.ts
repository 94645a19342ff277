import { files, imports, roomOf, webFiles, webImports } from './imports.ts';

/** Rooms as data flows: from those that the user meets to those that know nothing of the others. */
const ORDER = [
  'web',
  'cli',
  'server',
  'jobs',
  'simulate',
  'face',
  'study',
  'dance',
  'calibration',
  'bearing',
  'recording',
  'signal',
];
const NAMES: Readonly<Record<string, string>> = { face: 'index.ts' };
const nameOf = (room: string) => NAMES[room] ?? room;
const place = (room: string) => ORDER.indexOf(room);

/** Which rooms each room imports, the leaves that all may import left out. */
export function roomImports(): Map<string, string[]> {
  const found = new Map<string, Set<string>>(ORDER.map((room) => [room, new Set<string>()]));
  for (const { from, to } of [...imports, ...webImports]) {
    const [room, imported] = [roomOf(from), roomOf(to)];
    if (room === imported || room === 'root' || imported === 'root') continue;
    if (!found.has(room)) throw new Error(`a room that the graph does not know: ${room}`);
    found.get(room)!.add(imported);
  }
  return new Map([...found].map(([room, to]) => [room, [...to].sort((a, b) => place(a) - place(b))]));
}

/** The arrows that do not follow from others. */
export function plainArrows(graph: ReadonlyMap<string, readonly string[]>): [string, string][] {
  const reaches = (from: string, to: string): boolean =>
    (graph.get(from) ?? []).some((next) => next === to || reaches(next, to));
  return [...graph].flatMap(([from, targets]) =>
    targets
      .filter((to) => !targets.some((other) => other !== to && reaches(other, to)))
      .map((to): [string, string] => [from, to]),
  );
}

/** About how many: exact counts would change with every file that is added. */
function aboutCount(count: number): string {
  return count === 1 ? '1' : count < 10 ? 'under 10' : `about ${10 * Math.round(count / 10)}`;
}

/** The part of DEVELOPERS.md that says which room imports which: a picture, then all of it as a table. */
export function graphText(): string {
  const graph = roomImports();
  const counts = new Map<string, number>();
  for (const path of [...files, ...webFiles]) counts.set(roomOf(path), (counts.get(roomOf(path)) ?? 0) + 1);
  const arrows = plainArrows(graph).map(([from, to]) => `  ${nameOf(from)} --> ${nameOf(to)}`);
  const rows = [...graph].map(
    ([room, to]) =>
      `| ${nameOf(room)} | ${aboutCount(counts.get(room) ?? 0)} | ${to.map(nameOf).join(', ') || 'nothing'} |`,
  );
  return [
    '```mermaid',
    'graph TD',
    ...arrows,
    '```',
    '',
    '| room | files | imports |',
    '|---|---|---|',
    ...rows,
  ].join('\n');
}
