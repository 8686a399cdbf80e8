/** Degrees Fahrenheit and Celsius. The unit of a number is declared by its field's name, never guessed from its size. */

export const celsiusOf = (temperatureF: number): number => ((temperatureF - 32) * 5) / 9;

export const fahrenheitOf = (temperatureC: number): number => (temperatureC * 9) / 5 + 32;

/** A difference of temperatures, such as a z value: no offset. */
export const celsiusStepOf = (stepF: number): number => (stepF * 5) / 9;
