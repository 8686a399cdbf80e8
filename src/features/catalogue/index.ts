/** The only door to the catalogue: sites, places, equipment, suppliers, items, recipes. */
import type { BoundOperation } from '../../platform/http/contract.ts';

export { findEquipment, type EquipmentRow } from './equipment/store.ts';
export { findItems, type ItemLife, type ItemRow } from './items/store.ts';
export { findPlaces, type PlaceRow } from './places/store.ts';
export { findRecipes, type RecipeInput, type RecipeRow, type RecipeStep } from './recipes/store.ts';
export { findSites, type SiteRow } from './sites/store.ts';
export { findSuppliers, type SupplierRow } from './suppliers/store.ts';

export const catalogueOperations: readonly BoundOperation[] = [];
