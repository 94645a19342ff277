declare module 'plotly.js-dist' {
  const library: unknown;
  export default library;
}
