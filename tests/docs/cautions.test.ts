import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { shortCautions } from '../../src/study/report/cautions.ts';

const page = async (name: string) => {
  const text = await readFile(fileURLToPath(new URL(`../../${name}`, import.meta.url)), 'utf8');
  return text.replaceAll(/\s+/g, ' ');
};

test('the README boxes the cautions of the report, word for word', async () => {
  const readme = await page('README.md');
  for (const caution of shortCautions) expect(readme).toContain(`- ${caution}`);
});

test.each([
  ['stings and allergic shock', /sting.*allergic/i],
  ['veil and smoker', /veil.*smoker/i],
  ['glass hives', /glass/i],
  ['carbon dioxide in closed rooms', /carbon dioxide.*closed room/i],
  ['small brass loads and handling', /loads .*brass|brass.*loads/i],
  ['roads and weather', /road.*weather|weather.*road/i],
  ['local rules on bees, disease and animal research', /local rules.*disease.*research with animals/i],
  ['a place is a probability', /a decoded place is a probability, not a finding/i],
])('cautions speak of %s, in full and in short', async (_, wanted) => {
  expect(await page('docs/cautions.md')).toMatch(wanted);
  expect(shortCautions.join(' ')).toMatch(wanted);
});
