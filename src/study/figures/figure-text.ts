/**
 * A name as plotly.js shows it to the letter: it reads a text as HTML of its own, in which a bee called
 * `<a href="…">` would be a link.
 */
export function figureText(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;');
}
