/**
 * Mean kinetic temperature: the one temperature that would do a chemical the same harm as the temperatures it had. Reported, never used
 * for microbes: it weighs by one activation energy, and a long window hides a short excursion (USP PF 44(4), read: 23.98 °C over 52 weeks
 * where 30 days had 28.98 °C). 22 h at 4 °C and 2 h at 15 °C come to 5.7 °C.
 * Source: USP 29 <1160> (read).
 */
import { integratedOver, totalH, type Piece } from './exposure.ts';
import { GAS_CONSTANT_KJ_PER_MOL_K, ZERO_C_IN_K } from './relative-rates.ts';

/** USP 29 <1160>: divided by the gas constant it is 10,000 K. */
export const USUAL_ACTIVATION_ENERGY_KJ_PER_MOL = 83.144;

/**
 * °C, weighed by time. Never below the plain mean, never above the warmest.
 * @throws RangeError without any time
 */
export function meanKineticTemperatureC(
  pieces: readonly Piece[],
  activationEnergyKjPerMol = USUAL_ACTIVATION_ENERGY_KJ_PER_MOL,
): number {
  const hours = totalH(pieces);
  if (!(hours > 0)) throw new RangeError('There is no time to take the mean over');
  const overGasConstant = activationEnergyKjPerMol / GAS_CONSTANT_KJ_PER_MOL_K;
  // As against the warmest: exp(-E/RT) alone is so small that high energies would underflow.
  const inverseWarmest = 1 / (Math.max(...pieces.map(({ fromC, toC }) => Math.max(fromC, toC))) + ZERO_C_IN_K);
  const mean =
    integratedOver(pieces, (temperatureC) =>
      Math.exp(-overGasConstant * (1 / (temperatureC + ZERO_C_IN_K) - inverseWarmest)),
    ) / hours;
  return 1 / (inverseWarmest - Math.log(mean) / overGasConstant) - ZERO_C_IN_K;
}
