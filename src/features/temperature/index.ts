/** The only door to temperature: sensors, readings, what places and vehicles went through. */
import { bind, bindRaw, type BoundOperation } from '../../platform/http/contract.ts';
import type { Clock } from '../../platform/clock.ts';
import type { Db } from '../../platform/db/db.ts';
import type { Job } from '../../platform/jobs.ts';
import * as excursions from './excursions/contract.ts';
import * as excursionQueries from './excursions/queries.ts';
import * as importCommands from './imports/commands.ts';
import * as imports from './imports/contract.ts';
import { importReadings } from './imports/job.ts';
import { receiveImport } from './imports/receive.ts';
import * as monitoringCommands from './monitoring/commands.ts';
import * as monitoring from './monitoring/contract.ts';
import * as readingCommands from './readings/commands.ts';
import * as readings from './readings/contract.ts';
import { dropReadingMonths, makeReadingMonths } from './readings/months.ts';
import * as readingQueries from './readings/queries.ts';
import * as sensorCommands from './sensors/commands.ts';
import * as sensors from './sensors/contract.ts';

export {
  exposureOf,
  exposureSegments,
  exposuresOf,
  segmentsOfEach,
  type Exposure,
  type SubjectInterval,
} from './place-days/exposure.ts';
export { recomputeTemperature } from './place-days/jobs.ts';
export { lotIdsOfExcursion } from './excursions/queries.ts';
export { listExcursionsAt, type ExcursionRow } from './excursions/store.ts';

const sensorOperations: readonly BoundOperation[] = [
  bind(sensors.createSensor, sensorCommands.createSensorCommand),
  bind(sensors.listSensors, sensorCommands.listSensorsQuery),
  bind(sensors.getSensor, sensorCommands.getSensorQuery),
  bind(sensors.changeSensor, sensorCommands.changeSensorCommand),
  bind(sensors.createSensorLocation, sensorCommands.createSensorLocationCommand),
];

const readingOperations: readonly BoundOperation[] = [
  bindRaw(readings.createReadings, readingCommands.receiveReadings, readingCommands.createReadingsCommand),
  bind(readings.listReadings, readingQueries.listReadingsQuery),
];

const importOperations: readonly BoundOperation[] = [
  bindRaw(imports.createReadingImport, receiveImport, importCommands.createReadingImportCommand),
  bind(imports.getReadingImport, importCommands.getReadingImportQuery),
  bind(imports.getReadingImportEvents, importCommands.getReadingImportEventsQuery),
];

const watchOperations: readonly BoundOperation[] = [
  bind(monitoring.setPlaceMonitoring, monitoringCommands.setMonitoring),
  bind(monitoring.getPlaceMonitoring, monitoringCommands.readMonitoring),
  bind(excursions.listExcursions, excursionQueries.listExcursionsQuery),
  bind(excursions.getExcursion, excursionQueries.getExcursionQuery),
];

export const temperatureOperations: readonly BoundOperation[] = [
  ...sensorOperations,
  ...readingOperations,
  ...importOperations,
  ...watchOperations,
];

/** `readingsKeepDays`: how long readings are kept; null or left out: for ever. */
export function temperatureJobs(parts: { db: Db; clock: Clock; readingsKeepDays?: number | null }): readonly Job[] {
  const keepDays = parts.readingsKeepDays ?? null;
  return [importReadings(parts), makeReadingMonths(parts), ...dropReadingMonths({ ...parts, keepDays })];
}
