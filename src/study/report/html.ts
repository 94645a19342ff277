/** Text as HTML shows it. */
export function escapeHtml(text: string): string {
  return text
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;');
}

/** Data inside a script element, in which no tag may begin. */
export function scriptData(value: unknown): string {
  return JSON.stringify(value)
    .replaceAll('<', '\\u003c')
    .replaceAll('\u2028', '\\u2028')
    .replaceAll('\u2029', '\\u2029');
}

export const paragraph = (text: string): string => `<p>${escapeHtml(text)}</p>`;

export const list = (items: readonly string[]): string =>
  items.length === 0 ? '' : `<ul>${items.map((item) => `<li>${escapeHtml(item)}</li>`).join('')}</ul>`;

/** A part of the report with a heading; its id is what the contents point to. */
export const section = (id: string, title: string, ...parts: readonly string[]): string =>
  `<section id="${id}"><h2>${escapeHtml(title)}</h2>\n${parts.filter((part) => part !== '').join('\n')}\n</section>`;

/** A heading within a part. */
export const subheading = (title: string): string => `<h3>${escapeHtml(title)}</h3>`;

const MOST_ROWS = 200;
/** Tables of no more rows stay on one page. */
const FEW_ROWS = 15;

/**
 * A table; cells that are numbers stand to the right. Beyond 200 rows it says in which table of an export the others
 * are.
 */
export function tableHtml(
  caption: string,
  header: readonly string[],
  rows: readonly (readonly string[])[],
  whole = '',
): string {
  if (rows.length === 0) return '';
  const shown = rows.slice(0, MOST_ROWS);
  const numeric = header.map((_, column) => shown.every((row) => /^[-−+]?[\d.]*( ?%)?$/.test(row[column]!)));
  const cells = (tag: 'th' | 'td', row: readonly string[]) =>
    row
      .map(
        (cell, k) =>
          `<${tag}${tag === 'th' ? ' scope="col"' : ''}${numeric[k] ? ' class="n"' : ''}>${escapeHtml(cell)}</${tag}>`,
      )
      .join('');
  const more =
    rows.length > shown.length
      ? `<p class="note">${rows.length - shown.length} more rows are in ${escapeHtml(whole)} of combtone export.</p>`
      : '';
  return (
    `<div class="table${shown.length <= FEW_ROWS ? ' short' : ''}"><p class="caption">${escapeHtml(caption)}</p><table aria-label="${escapeHtml(caption)}"><thead><tr>${cells('th', header)}</tr></thead>\n<tbody>\n` +
    `${shown.map((row) => `<tr>${cells('td', row)}</tr>`).join('\n')}\n</tbody></table></div>${more}`
  );
}
