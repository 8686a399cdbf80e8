/** The only door to temperature: sensors, readings, what places and vehicles went through. */
import { bind, bindRaw, type BoundOperation } from '../../platform/http/contract.ts';
import * as readingCommands from './readings/commands.ts';
import * as readings from './readings/contract.ts';
import * as readingQueries from './readings/queries.ts';
import * as sensorCommands from './sensors/commands.ts';
import * as sensors from './sensors/contract.ts';

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

export const temperatureOperations: readonly BoundOperation[] = [...sensorOperations, ...readingOperations];
