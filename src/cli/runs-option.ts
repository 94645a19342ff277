import { Option } from 'commander';
import { type RunChoice, runChoices } from '../calibration/runs.ts';

/** `--runs`: which runs of a dance are used. */
export const runsOption = (usual: RunChoice): Option =>
  new Option(
    '--runs <which>',
    'runs of a dance to use: inner leaves out the first and the last, first-four-inner takes the first four of ' +
      'those; a dance of fewer than four gives all',
  )
    .choices([...runChoices])
    .default(usual);
