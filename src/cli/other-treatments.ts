import {
  type EstimateTreatments,
  otherTreatmentCaution,
  otherTreatmentWords,
} from '../study/other-treatment.ts';
import { warn } from '../study/warn.ts';

/** Says on stderr, in one line, how many estimates lean on a curve of another treatment. */
export function tellOtherTreatments(rows: readonly EstimateTreatments[]): void {
  const words = otherTreatmentWords(rows);
  if (words !== null) warn(`${words}: ${otherTreatmentCaution}`);
}
