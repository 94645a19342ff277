/**
 * Reads a recording to its end and converts every sample, and nothing more: what detection is set against.
 *
 *   node read-recording.js FILE
 */
import { openRecording } from '../../../src/recording/index.ts';

const recording = await openRecording(process.argv[2]!);
let frames = 0;
for await (const block of recording.blocks(1)) frames += block.length;
await recording.close();
if (frames !== recording.info.frameCount)
  throw new Error(`${frames} frames read of ${recording.info.frameCount}`);
