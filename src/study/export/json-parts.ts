/**
 * The JSON text of an object, as `JSON.stringify(object, null, 1)` writes it and with a line break behind it, piece by
 * piece: what is iterable among its members is written as an array, one element after another, and never held.
 */
export function* jsonParts(object: Readonly<Record<string, unknown>>): Generator<string> {
  yield '{';
  let comma = '';
  for (const [name, value] of Object.entries(object)) {
    if (value === undefined) continue;
    yield `${comma}\n ${JSON.stringify(name)}: `;
    if (isIterable(value)) yield* arrayParts(value);
    else yield indented(value, 1);
    comma = ',';
  }
  yield `${comma === '' ? '' : '\n'}}\n`;
}

function* arrayParts(elements: Iterable<unknown>): Generator<string> {
  let before = '[';
  for (const element of elements) {
    yield `${before}\n  ${indented(element, 2)}`;
    before = ',';
  }
  yield before === '[' ? '[]' : '\n ]';
}

/** JSON of a value that stands some levels deep. Line breaks within text are escaped, so all others are layout. */
function indented(value: unknown, levels: number): string {
  return JSON.stringify(value, null, 1).replaceAll('\n', `\n${' '.repeat(levels)}`);
}

function isIterable(value: unknown): value is Iterable<unknown> {
  return typeof value === 'object' && value !== null && Symbol.iterator in value;
}
