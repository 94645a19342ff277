import { counted } from './counted.ts';

/** Treatments that an estimate leans on: that of the dance, and that of the dances which its curve was fitted to. */
export interface EstimateTreatments {
  readonly treatment: string | null;
  readonly curve_treatment: string | null;
}

/**
 * Whether a dance was estimated by the curve of bees of another treatment, which its distance then is not true to. A
 * dance of which no treatment is noted is taken for one of the curve's own.
 */
export function isOtherTreatment({ treatment, curve_treatment }: EstimateTreatments): boolean {
  return treatment !== null && treatment !== (curve_treatment ?? 'reference');
}

/** `by the curve of untreated bees`: whose curve a distance was read from. */
export function curveWords(curveTreatment: string | null): string {
  const plain = curveTreatment === null || curveTreatment === 'reference';
  return `by the curve of ${plain ? 'untreated bees' : `bees of treatment ${curveTreatment}`}`;
}

/**
 * `8 dances of treatment loaded were estimated by the curve of untreated bees`; null where no dance is of another
 * treatment than its curve. All rows are of one calibration.
 */
export function otherTreatmentWords(rows: readonly EstimateTreatments[]): string | null {
  const others = rows.filter(isOtherTreatment);
  const [first] = others;
  if (first === undefined) return null;
  const counts = new Map<string, number>();
  for (const { treatment } of others) counts.set(treatment!, (counts.get(treatment!) ?? 0) + 1);
  const named = [...counts]
    .sort()
    .map(([treatment, count]) => (counts.size > 1 ? `${treatment} (${count})` : treatment));
  return (
    `${counted(others.length, 'dance')} of treatment ${named.join(', ')} ${others.length === 1 ? 'was' : 'were'} estimated ` +
    curveWords(first.curve_treatment)
  );
}

/** Why a map leaves such a dance out, and how to have it in. */
export const unmappedReason = ({ treatment, curve_treatment }: EstimateTreatments): string =>
  `of treatment ${treatment}, estimated ${curveWords(curve_treatment)}; combtone map --all-treatments maps it`;

/** What follows from it, after a colon. */
export const otherTreatmentCaution =
  'a treatment that makes runs longer or shorter makes these distances wrong (combtone compare tells by how much)';
