import { z } from 'zod';

const text = z.string().nullable();
const number = z.number().nullable();

const angle = 'degrees clockwise from straight up, from -180 to 360';

/** In, one row per run: comb angles as read, with the clock time of the run or of its dance. */
export const angleObservationSchema = z.object({
  dance_id: z.string(),
  bee_id: text,
  feeder_id: text,
  treatment: text,
  comb_angle_deg: z.number().min(-180, angle).max(360, angle).nullable(),
  start_time: text,
});

/** Out, one row per dance: where it points. */
export const bearingSchema = z.object({
  dance_id: z.string(),
  bee_id: text,
  feeder_id: text,
  treatment: text,
  start_time: text,
  run_count: z.number().int(),
  used_runs: z.number().int(),
  /** Circular mean, clockwise from straight up. */
  comb_angle_deg: number,
  sun_azimuth_deg: number,
  /** Without refraction. */
  sun_elevation_deg: number,
  circular_sd_deg: number,
  /** Concentration of the dance's runs, small-sample corrected. */
  kappa: number,
  mean_divergence_deg: number,
  /** Systematic misdirection taken off, clockwise; empty without dances to known feeders. */
  misdirection_deg: number,
  bearing_deg: number,
  bearing_low_deg: number,
  bearing_high_deg: number,
  level: number,
  /** Degrees of freedom of the interval's t distribution; empty where the scatter was given. */
  direction_dof: number,
  /** How far the dance points clockwise of its known feeder. */
  deviation_deg: number,
  flags: text,
});

export type AngleObservationRow = z.infer<typeof angleObservationSchema>;
export type BearingRow = z.infer<typeof bearingSchema>;
