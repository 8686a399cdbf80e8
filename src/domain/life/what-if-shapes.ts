/** What is asked in a what-if, and what is answered. Hours, °C; shares without unit. */
import type { BetweenReadings, Piece } from './exposure.ts';
import type { ProjectedStep, Reference } from './projection.ts';
import type { RateModel } from './relative-rates.ts';
import type { SentExposure } from './sent-exposure.ts';
import type { Source } from './sources.ts';

export type LifeModel =
  | RateModel
  | {
      readonly kind: 'listeria-growth';
      /** of the product; -1.18 °C where none is sent */
      readonly minTemperatureC?: number | undefined;
      readonly growthAt5CLog10PerDay?: number | undefined;
      readonly allowedIncreaseLog10?: number | undefined;
    }
  | { readonly kind: 'mean-kinetic-temperature'; readonly activationEnergyKjPerMol?: number | undefined };

export interface WhatIf extends SentExposure {
  readonly model: LifeModel;
  readonly reference?: Reference | undefined;
  readonly thenTemperatureC?: number | undefined;
}

export interface Growth {
  readonly log10Increase: number;
  readonly limitCfuPerG: number;
  /** so that the limit still holds at the end of the exposure */
  readonly highestInitialCfuPerG: number;
}

export interface ToxinAdvisory {
  readonly usedFraction: number;
  /** at the further temperature; null without one and below 3 °C */
  readonly remainingH: number | null;
}

export type ExposureStep = Piece & { readonly fromH: number } & Pick<
    { [K in keyof ProjectedStep]: ProjectedStep[K] | null },
    'relativeRate' | 'usedFraction' | 'usedFractionSoFar'
  >;

/** For people in `sentence`, for programs in `code`. */
export interface Caution {
  readonly code: string;
  readonly sentence: string;
}

export interface WhatIfAnswer {
  /** with what was taken where nothing was sent */
  readonly model: LifeModel;
  readonly reference: Reference | null;
  readonly exposureH: number;
  readonly startsAtMs: number | null;
  readonly betweenReadings: BetweenReadings | null;
  readonly thenTemperatureC: number | null;
  readonly usedFraction: number | null;
  readonly equivalentAgeH: number | null;
  readonly remainingH: number | null;
  readonly growth: Growth | null;
  readonly meanKineticTemperatureC: number | null;
  readonly toxinAdvisory: ToxinAdvisory | null;
  readonly steps: readonly ExposureStep[];
  readonly cautions: readonly Caution[];
  readonly sources: readonly Source[];
}
