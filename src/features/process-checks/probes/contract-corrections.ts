/** A calibration that was entered wrongly is entered anew. */
import { defineOperation } from '../../../platform/http/contract.ts';
import { text } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { CalibrationMade, NewCalibration, ofCalibration } from './contract.ts';

export const createCalibrationCorrection = defineOperation({
  id: 'createCalibrationCorrection',
  method: 'post',
  path: '/v1/calibrations/{calibrationId}/corrections',
  tag: 'process-checks',
  summary: 'Record a calibration anew in place of one that was entered wrongly',
  description:
    'The whole calibration again, of the same thermometer, with the reason. Both stay readable; only the newest counts: for what the probe is ' +
    'worth, and for which checks are in doubt. Where a failed one becomes a passed one its finding is cleared, the other way round there is one. ' +
    'It is for typing errors: a probe that was put right is calibrated again.',
  permission: 'calibrations.write',
  naming: 'fact',
  mode: 'exclusive',
  params: ofCalibration,
  body: NewCalibration.extend({ reason: text(500) }).meta({ id: 'NewCalibrationCorrection' }),
  answers: { 201: { description: 'Recorded in its place', schema: CalibrationMade, headers: ['Location'] } },
  errors: ['not-found', 'time-in-future', 'rule-broken', 'already-corrected'],
  example: {
    status: 201,
    params: { calibrationId: exampleId('calibration/probe-1') },
    body: {
      id: exampleId('new/calibration-correction'),
      occurredAt: '2026-11-24T07:10:00+00:00',
      method: 'boiling-point',
      altitudeM: 60,
      measuredC: 99.8,
      reason: 'It read 99.8; 96.8 was a typing error',
    },
  },
});
