declare module 'plotly.js-basic-dist' {
  const library: unknown;
  export default library;
}
