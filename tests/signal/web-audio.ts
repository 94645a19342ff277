/** The Web Audio API for tests; or, where it cannot be loaded, the reason in words. */
export type WebAudio =
  | { readonly audio: typeof import('node-web-audio-api'); readonly reason: null }
  | { readonly audio: null; readonly reason: string };

/** On Linux the module is linked against the system's libasound; machines without sound may lack it. */
export async function loadWebAudio(): Promise<WebAudio> {
  try {
    return { audio: await import('node-web-audio-api'), reason: null };
  } catch (error) {
    const line = (error as Error).message.split('\n')[0];
    return { audio: null, reason: `node-web-audio-api cannot be loaded here (libasound2 missing?): ${line}` };
  }
}
