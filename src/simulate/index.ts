export { backgroundFiles } from './background-folder.ts';
export { planBees } from './bees.ts';
export { curveDurationS, type DurationCurve, durationSdS, meanReturnS } from './curve.ts';
export { disturbanceNamed, disturbanceNames } from './disturbance-names.ts';
export {
  type Bee,
  completeOptions,
  type Disturbance,
  type PartialSimulationOptions,
  type SimulationOptions,
  simulationSchema,
} from './options.ts';
export { type HivePlan, planHive } from './plan.ts';
export {
  prepareRendering,
  type Rendering,
  renderBackground,
  renderBlock,
  renderSounds,
} from './render.ts';
export { type SimulatedFiles, type SimulatedSound, simulateHive, simulateSound } from './simulate-hive.ts';
export { simulationText } from './simulation-text.ts';
export { type PulseRow, pulseSchema, type TruthTables, truthTables } from './truth.ts';
