import { describe, expect, test } from 'vitest';
import { apiPage, libraryDeclarations } from './api-page.ts';

describe('the library’s face', () => {
  const all = libraryDeclarations();

  test('exports what a script needs', () => {
    expect(all.map(({ name }) => name)).toEqual(
      expect.arrayContaining([
        'detect',
        'detectSamples',
        'calibrate',
        'estimate',
        'bearingOfDance',
        'sunPosition',
        'openRecording',
        'InputError',
      ]),
    );
  });

  test('every exported function and constant says what it does', () => {
    const silent = all.filter(
      ({ comment, code, kind }) => comment === '' && !code.includes('z.infer') && kind !== 'type',
    );
    expect(silent.map(({ name }) => name)).toEqual([]);
  });

  test('docs/api.md is what the comments say', async () => {
    await expect(apiPage()).toMatchFileSnapshot('../../docs/api.md');
  });
});
