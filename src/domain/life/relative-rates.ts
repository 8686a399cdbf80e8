/**
 * How much faster food changes at one temperature than at another. °C in (Arrhenius in kelvin inside), a plain factor out: 2 means that an
 * hour there takes as much life as two hours at the reference temperature. None falls as the temperature rises.
 *
 * Sources, and how far they were read:
 * - square root: Ratkowsky et al. 1982, J. Bacteriol. 149:1-5 (read): sqrt(rate) = b (T - Tmin). On sea bream at 0 to 15 °C the mean error
 *   of a shelf life was 5.8 % (Koutsoumanis 2001, Appl. Environ. Microbiol. 67:1821, read).
 * - relative rate of spoilage: Olley & Ratkowsky 1973; the coefficient 0.1 is from memory.
 * - Q10: a textbook passage, second-hand.
 * - Arrhenius: "fits growth badly" (Ratkowsky et al. 1982, read); for chemical change.
 */

/** Both from USP 29 <1160> (read) and the definition of the Celsius scale. */
export const GAS_CONSTANT_KJ_PER_MOL_K = 8.3144e-3;
export const ZERO_C_IN_K = 273.15;
/** Olley & Ratkowsky 1973, from memory: (1 + 0.1 T)², which is the square-root relation with this minimum. */
const SPOILAGE_MIN_TEMPERATURE_C = -10;

export type RateModel =
  | { readonly kind: 'square-root'; readonly minTemperatureC: number }
  | { readonly kind: 'q10'; readonly q10: number }
  | { readonly kind: 'arrhenius'; readonly activationEnergyKjPerMol: number };

/**
 * ((T - Tmin) / (Tref - Tmin))². At and below Tmin nothing grows: the square alone would rise again there.
 * @throws RangeError when the reference is not above Tmin: every factor would be infinite
 */
export function squareRootFactor(temperatureC: number, referenceC: number, minTemperatureC: number): number {
  if (!(referenceC > minTemperatureC)) throw new RangeError('The reference is not above the minimum temperature');
  return (Math.max(0, temperatureC - minTemperatureC) / (referenceC - minTemperatureC)) ** 2;
}

/** (1 + 0.1 T)² as against 0 °C, zero from -10 °C down. The coefficient is from memory. */
export function relativeRateOfSpoilage(temperatureC: number): number {
  return squareRootFactor(temperatureC, 0, SPOILAGE_MIN_TEMPERATURE_C);
}

/** q10 ^ ((T - Tref) / 10); q10 is 1 or more. */
export function q10Factor(temperatureC: number, referenceC: number, q10: number): number {
  return q10 ** ((temperatureC - referenceC) / 10);
}

/** exp(E/R (1/Tref - 1/T)), temperatures in kelvin inside. */
function arrheniusFactor(temperatureC: number, referenceC: number, activationEnergyKjPerMol: number): number {
  const inverse = 1 / (referenceC + ZERO_C_IN_K) - 1 / (temperatureC + ZERO_C_IN_K);
  return Math.exp((activationEnergyKjPerMol / GAS_CONSTANT_KJ_PER_MOL_K) * inverse);
}

/** The factor of any model. @throws RangeError as squareRootFactor */
export function factorOf(model: RateModel, temperatureC: number, referenceC: number): number {
  switch (model.kind) {
    case 'square-root':
      return squareRootFactor(temperatureC, referenceC, model.minTemperatureC);
    case 'q10':
      return q10Factor(temperatureC, referenceC, model.q10);
    case 'arrhenius':
      return arrheniusFactor(temperatureC, referenceC, model.activationEnergyKjPerMol);
  }
}
