import type { Random } from '../random.ts';
import { noisePartials } from './call-sounds.ts';
import type { SoundStore } from './dances.ts';
import { branch, poissonTimes } from './draws.ts';
import { envelopeOfAudibleLength } from './envelope.ts';
import type { SimulationOptions } from './options.ts';
import { expectedPower, type Sound, toUnitPower } from './sound.ts';

/**
 * Draws the disturbances that are events in time: speech and wind as sounds, dropouts as stretches of zeros.
 * Each disturbance draws from a source of its own, so that asking for another does not change it.
 */
export function planDisturbances(
  { disturbances, lengthS }: SimulationOptions,
  store: SoundStore,
  random: Random,
): (readonly [number, number])[] {
  const sources = { speech: branch(random), wind: branch(random), dropouts: branch(random) };
  const dropouts: (readonly [number, number])[] = [];
  for (const disturbance of disturbances) {
    if (disturbance.kind === 'speech') {
      addGroup(store, planSpeech(lengthS, store.groups.length, sources.speech), disturbance.levelDb);
    } else if (disturbance.kind === 'wind') {
      addGroup(store, planWind(lengthS, store.groups.length, sources.wind), disturbance.levelDb);
    } else if (disturbance.kind === 'dropouts') {
      const { perMinute, shortestS, longestS } = disturbance;
      for (const fromS of poissonTimes(sources.dropouts, 60 * perMinute, lengthS)) {
        dropouts.push([fromS, fromS + sources.dropouts.between(shortestS, longestS)]);
      }
    }
  }
  return dropouts;
}

function addGroup(store: SoundStore, sounds: readonly Sound[], snrDb: number): void {
  if (sounds.length === 0) return;
  store.groups.push({ middleS: 0, snrDb, reference: 'whole' });
  for (const sound of toUnitPower(sounds, expectedPower)) store.sounds.push(sound);
}

/**
 * Something like speech: phrases with pauses between, made of syllables voiced at 100 to 220 Hz and shaped by
 * two formants each.
 */
function planSpeech(lengthS: number, group: number, random: Random): Sound[] {
  const sounds: Sound[] = [];
  const voiceHz = random.between(105, 200);
  let timeS = random.between(0.2, 2);
  while (timeS < lengthS) {
    const phraseEndS = timeS + random.between(0.8, 4);
    while (timeS < phraseEndS) {
      const syllableS = random.between(0.08, 0.32);
      if (timeS + syllableS < lengthS) sounds.push(syllable(timeS, syllableS, voiceHz, group, random));
      timeS += syllableS + random.between(0.02, 0.12);
    }
    timeS += random.between(0.5, 5);
  }
  return sounds;
}

function syllable(startS: number, lengthS: number, voiceHz: number, group: number, random: Random): Sound {
  const pitchHz = Math.min(220, Math.max(100, voiceHz * (1 + 0.1 * random.normal())));
  const bend = random.between(-0.15, 0.1);
  const formants = [
    { atHz: random.between(280, 800), widthHz: 90, amplitude: 1 },
    { atHz: random.between(900, 2300), widthHz: 140, amplitude: 0.4 },
  ];
  const partials = Array.from({ length: Math.floor(2600 / pitchHz) }, (_, index) => {
    const frequencyHz = (index + 1) * pitchHz;
    const amplitude = formants.reduce(
      (sum, { atHz, widthHz, amplitude: peak }) => sum + peak / (1 + ((frequencyHz - atHz) / widthHz) ** 2),
      0.03,
    );
    return {
      frequencyHz,
      glideHzPerS: (frequencyHz * bend) / lengthS,
      amplitude,
      phase: random.between(0, 2 * Math.PI),
    };
  });
  const levelDb = 2 * random.normal();
  const envelope = envelopeOfAudibleLength(lengthS, 0.2, 0.3, 'cosine');
  return { startS, envelope, partials, gain: 10 ** (levelDb / 20), group };
}

/** Gusts of noise below 100 Hz. */
function planWind(lengthS: number, group: number, random: Random): Sound[] {
  return poissonTimes(random, 600, lengthS).map((startS) => {
    const gustS = Math.min(random.between(0.6, 5), Math.max(0.3, lengthS - startS));
    return {
      startS,
      envelope: envelopeOfAudibleLength(gustS, random.between(0.2, 0.5), random.between(0.2, 0.5), 'cosine'),
      partials: noisePartials(random, 40, 4, random.between(40, 95), random.between(-6, -3)),
      gain: 10 ** ((4 * random.normal()) / 20),
      group,
    };
  });
}
