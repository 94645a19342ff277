/** What a bench asks of a page while it measures it; put in before the page's own script. */
export interface Probe {
  /** From the address being asked for to the first spectrogram on the screen. */
  readonly firstDrawnMs: () => Promise<number>;
  /** Watches from the next event of a type to the next spectrogram on the screen. */
  readonly watchDrawn: (event: string) => void;
  /** Watches from the next key to an element having a class, on the screen. */
  readonly watchChanged: (selector: string, className: string) => void;
  /** What was watched last, once it has come to pass. */
  readonly tookMs: () => Promise<number>;
  readonly startFrames: () => void;
  readonly endFrames: () => Frames;
}

export interface Frames {
  /** Between frames. */
  readonly deltasMs: readonly number[];
  /** Longest time for which the page answered nothing; 0 where it was never above 50 ms. */
  readonly longestTaskMs: number;
}

/** Plain script, since it runs in the page. What was drawn counts from the frame after it on. */
export const pageProbe = `(() => {
  const drawn = [];
  let told = [];
  const onScreen = (then) => requestAnimationFrame(() => setTimeout(() => then(performance.now()), 0));
  new MutationObserver((changes) => {
    if (!changes.some(({ target }) => target.dataset?.drawn !== undefined)) return;
    onScreen((at) => {
      drawn.push(at);
      for (const tell of told.splice(0)) tell(at);
    });
  }).observe(document, { subtree: true, attributes: true, attributeFilter: ['data-drawn'] });
  const nextEvent = (type) =>
    new Promise((resolve) =>
      window.addEventListener(type, ({ timeStamp }) => resolve(timeStamp), { once: true, capture: true }));
  let deltasMs = [];
  let longestTaskMs = 0;
  let running = false;
  new PerformanceObserver((list) => {
    for (const { duration } of list.getEntries()) longestTaskMs = Math.max(longestTaskMs, duration);
  }).observe({ type: 'longtask' });
  let watched = Promise.resolve(0);
  const nextDrawn = async (type) => {
      const began = await nextEvent(type);
      return (await new Promise((resolve) => told.push(resolve))) - began;
  };
  const nextChanged = async (selector, className) => {
      const id = document.querySelector(selector).dataset.sound;
      const began = await nextEvent('keydown');
      return new Promise((resolve) => {
        const look = () => {
          const bar = document.querySelector('[data-sound="' + CSS.escape(id) + '"]');
          if (bar?.classList.contains(className) !== true) return false;
          observer.disconnect();
          onScreen((at) => resolve(at - began));
          return true;
        };
        const observer = new MutationObserver(look);
        if (!look()) observer.observe(document, { subtree: true, attributes: true, childList: true });
      });
  };
  window.probe = {
    firstDrawnMs: async () => {
      const end = performance.now() + 30_000;
      while (drawn.length === 0 && performance.now() < end) await new Promise((resolve) => setTimeout(resolve, 5));
      if (drawn.length === 0) throw new Error('no spectrogram within 30 s');
      return drawn[0];
    },
    watchDrawn: (type) => {
      watched = nextDrawn(type);
    },
    watchChanged: (selector, className) => {
      watched = nextChanged(selector, className);
    },
    tookMs: () =>
      Promise.race([
        watched,
        new Promise((_, refuse) => setTimeout(() => refuse(new Error('what was watched for never came')), 10_000)),
      ]),
    startFrames: () => {
      deltasMs = [];
      longestTaskMs = 0;
      running = true;
      let last = performance.now();
      const frame = (at) => {
        deltasMs.push(at - last);
        last = at;
        if (running) requestAnimationFrame(frame);
      };
      requestAnimationFrame((at) => {
        last = at;
        requestAnimationFrame(frame);
      });
    },
    endFrames: () => {
      running = false;
      return { deltasMs, longestTaskMs };
    },
  };
})()`;
