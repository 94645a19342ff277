import type { Command } from 'commander';
import type { CommandEntry } from './command-entry.ts';

/** Headings of help, in the order of the work. */
const GROUPS = {
  begin: 'To begin:',
  runs: 'From recordings to waggle runs:',
  distances: 'From durations to distances:',
  places: 'From comb angles to places:',
  publish: 'To publish:',
  beside: 'Beside these:',
};

/** All commands, in the order in which help lists them. */
export const COMMANDS: Readonly<Record<string, CommandEntry>> = {
  demo: {
    summary: 'simulate a study, do the whole job on it, serve the review page',
    group: GROUPS.begin,
    load: async () => (await import('./demo.ts')).registerDemo,
  },
  simulate: {
    summary: 'make a simulated recording of a hive, with known truth',
    group: GROUPS.begin,
    load: async () => (await import('./simulate.ts')).registerSimulate,
  },
  study: {
    summary: 'keep recordings, detections and reviews together in a folder',
    group: GROUPS.runs,
    load: async () => (await import('./study.ts')).registerStudy,
  },
  detect: {
    summary: 'time the waggle runs in recordings, tell calls apart, gather runs into dances',
    group: GROUPS.runs,
    load: async () => (await import('./detect.ts')).registerDetect,
  },
  review: {
    summary: 'look at, hear and correct what was detected, in the browser',
    group: GROUPS.runs,
    load: async () => (await import('./review.ts')).registerReview,
  },
  agree: {
    summary: 'compare found with reference trains and calls: precision, recall, errors of time',
    group: GROUPS.runs,
    load: async () => (await import('./agree.ts')).registerAgree,
  },
  calibrate: {
    summary: 'fit the curve of run duration (and dance tempo) on distance from dances to known feeders',
    group: GROUPS.distances,
    load: async () => (await import('./calibrate.ts')).registerCalibrate,
  },
  estimate: {
    summary: 'estimate the distances of dances to unknown places, with intervals',
    group: GROUPS.distances,
    load: async () => (await import('./estimate.ts')).registerEstimate,
  },
  compare: {
    summary: 'compare dances under a treatment with those of the reference, at the same feeders',
    group: GROUPS.distances,
    load: async () => (await import('./compare.ts')).registerCompare,
  },
  plan: {
    summary: 'tell how many feeders, bees and dances a calibration needs, by simulation from a pilot',
    group: GROUPS.distances,
    load: async () => (await import('./plan.ts')).registerPlan,
  },
  bearing: {
    summary: 'turn comb angles into bearings by the sun, with intervals',
    group: GROUPS.places,
    load: async () => (await import('./bearing.ts')).registerBearing,
  },
  map: {
    summary: 'map the places that dances tell of, with regions of 50, 80 and 95 %',
    group: GROUPS.places,
    load: async () => (await import('./map.ts')).registerMap,
  },
  day: {
    summary: 'show dances over the day, check clock and comb by the sun, set arrivals against dances',
    group: GROUPS.places,
    load: async () => (await import('./day.ts')).registerDay,
  },
  report: {
    summary: 'write a study as one HTML page with figures, tables and methods',
    group: GROUPS.publish,
    load: async () => (await import('./report.ts')).registerReport,
  },
  export: {
    summary: 'write a study as tables, GeoJSON and cues, or an excerpt of a recording with labels',
    group: GROUPS.publish,
    load: async () => (await import('./export.ts')).registerExport,
  },
  worker: {
    summary: 'take detection jobs from a queue, on any machine that has the recordings',
    group: GROUPS.beside,
    load: async () => (await import('./worker.ts')).registerWorker,
  },
  completion: {
    summary: 'print a script that lets the shell complete commands and options',
    group: GROUPS.beside,
    load: async () => {
      const { registerCompletion } = await import('./completion.ts');
      return (program: Command) => registerCompletion(program, COMMANDS);
    },
  },
};
