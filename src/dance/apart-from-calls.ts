import type { Tone } from './find-calls.ts';
import type { SegmentView, Span, TakenOut } from './segment-view.ts';
import { type ToneSound, toneSound } from './tone-sound.ts';

/** A begging call lasts no longer than this. */
const LONGEST_TONE_S = 0.25;
/** A call further than this in carrier can be taken out without harm to a pulse; a nearer one hides it. */
const FAR_HZ = 40;
/** The window hears a call half its length outside; what is measured of a call falls a little short of it. */
const BEFORE_S = 0.014;
/** A loud call dies away slowly, which is measured shorter still. */
const AFTER_S = 0.03;
/** How far before and after the onset of a call that was taken out what is left of it hides the rest. */
const ONSET_BEFORE_S = 0.006;
const ONSET_AFTER_S = 0.014;

/** What is looked at lies within this of the stretch that it is looked at for, s. */
const NEAR_S = 1;

/**
 * A segment as it is heard at a carrier, Hz: all of it, or, where a stretch is given, about that stretch; what it is
 * elsewhere is then open.
 */
export type HearAt = (carrierHz: number, about?: Stretch) => SegmentView;

type Stretch = Pick<Tone, 'startS' | 'endS'>;

/**
 * A segment as a dancer at some carrier is heard in it: calls far enough in carrier are taken out of the sound;
 * `covered` tells where those nearer, and the onsets of the others, hide her.
 *
 * @param calls tones that are likely calls
 */
export function hearApart(view: SegmentView, calls: readonly Tone[]): HearAt {
  const hiding = calls.filter(({ startS, endS }) => endS - startS <= LONGEST_TONE_S);
  if (hiding.length === 0) return () => view;
  let heardCalls: readonly HeardCall[] | null = null;
  const known: { readonly isFar: readonly boolean[]; readonly heard: SegmentView }[] = [];
  return (carrierHz, about) => {
    if (about !== undefined && !hiding.some((call) => isNear(call, about))) return view;
    heardCalls ??= heardOf(view, hiding);
    const isOpen = heardCalls.map(({ tone }) => about !== undefined && !isNear(tone, about));
    const isFar = heardCalls.map(({ tone }) => Math.abs(tone.carrierHz - carrierHz) >= FAR_HZ);
    const same = known.find((other) => isFar.every((far, k) => isOpen[k] || far === other.isFar[k]));
    if (same !== undefined) return same.heard;
    const heard = without(view, heardCalls, isFar);
    known.push({ isFar, heard });
    return heard;
  };
}

const isNear = (call: Stretch, about: Stretch): boolean =>
  call.startS < about.endS + NEAR_S && call.endS > about.startS - NEAR_S;

interface HeardCall {
  readonly tone: Tone;
  readonly sound: ToneSound;
}

/** Share of a tone's energy that is left when louder calls are taken out, below which it was but their side. */
const LEAST_OWN_SHARE = 0.25;

/** The sound of each call; the loudest first: what it leaves beside it would be taken for part of a fainter one. */
function heardOf(view: SegmentView, calls: readonly Tone[]): HeardCall[] {
  const left = view.samples.slice();
  const heard: HeardCall[] = [];
  for (const tone of [...calls].sort((a, b) => b.ratio - a.ratio || a.startS - b.startS)) {
    const noise = view.noisePowerAt((tone.startS + tone.endS) / 2, tone.carrierHz);
    const fit = (samples: Float32Array) => toneSound(samples, view.sampleRateHz, tone, noise);
    const sound = fit(left);
    const overlaps = heard.some((other) => other.tone.endS > tone.startS && other.tone.startS < tone.endS);
    if (overlaps && energyOf(sound) < LEAST_OWN_SHARE * energyOf(fit(view.samples))) continue;
    takeOff(left, sound);
    heard.push({ tone, sound });
  }
  return heard;
}

const energyOf = ({ samples }: ToneSound): number => samples.reduce((sum, value) => sum + value * value, 0);

function without(view: SegmentView, calls: readonly HeardCall[], isFar: readonly boolean[]): SegmentView {
  const samples = view.samples.slice();
  const covered: Span[] = [];
  const takenOut: TakenOut[] = [];
  calls.forEach(({ tone, sound }, k) => {
    if (!isFar[k]) {
      covered.push([tone.startS - BEFORE_S, tone.endS + AFTER_S]);
      return;
    }
    takeOff(samples, sound);
    const onsetS = sound.from / view.sampleRateHz;
    const endS = (sound.from + sound.samples.length) / view.sampleRateHz;
    const onset: Span = [onsetS - ONSET_BEFORE_S, onsetS + ONSET_AFTER_S];
    takenOut.push({ span: [onsetS, endS], onset, carrierHz: tone.carrierHz });
    covered.push(onset);
  });
  return { ...view, samples, covered, takenOut };
}

function takeOff(samples: Float32Array, sound: ToneSound): void {
  for (let n = 0; n < sound.samples.length; n++) samples[sound.from + n]! -= sound.samples[n]!;
}
