import { mkdir } from 'node:fs/promises';
import { saveCalibration } from '../../src/study/store/calibrations.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import { cutDance, writeCutDance } from '../study/cut-dance.ts';
import { dancesToFeeders } from '../study/made-study.ts';
import { type Served, servedStudy } from './served-study.ts';

/** A study with a dance that goes on from one recording to the next, and a calibration, served. */
export async function servedCutDance(): Promise<Served> {
  const sound = await cutDance();
  const served = await servedStudy({}, async (folder) => {
    await mkdir(folder);
    return writeCutDance(folder, sound, 0);
  });
  const record = calibrateDances(dancesToFeeders, { curve: 'line', runs: 'inner' });
  saveCalibration(served.study.store, { name: 'june', reviewer: 'ada', danceIds: [], record });
  return served;
}
