import type { Figure } from '../study/figures/style.ts';

/**
 * Writes the figures that a command was asked for, and gives the lines that say so; nothing without a folder.
 * plotly.js is large, and is read only when there is something to draw.
 */
export async function drawFigures(
  folder: string | undefined,
  title: string,
  make: () => readonly Figure[],
): Promise<string> {
  if (folder === undefined) return '';
  const { writeFigures } = await import('../study/figures/write-figures.ts');
  const { files, withoutSvg } = await writeFigures(folder, title, make());
  const lines = files.map((file) => `Written: ${file}\n`).join('');
  return withoutSvg === null ? lines : `${lines}No SVG: ${withoutSvg}.\n`;
}
