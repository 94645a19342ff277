import { detectInSegment, type SegmentFindings } from '../dance/detect-segment.ts';
import type { Segment } from '../dance/segments.ts';
import type { DetectorSettings } from '../dance/settings.ts';

export interface SearchTask {
  readonly segment: Segment;
  readonly settings: DetectorSettings;
}

/** One segment, searched in a thread beside the one that reads. */
export default function search({ segment, settings }: SearchTask): SegmentFindings {
  return detectInSegment(segment, settings);
}
