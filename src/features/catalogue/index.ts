/** The only door to the catalogue: sites and their reasons for waste, places, equipment, suppliers, items, recipes. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import * as equipmentCommands from './equipment/commands.ts';
import * as equipment from './equipment/contract.ts';
import * as itemCommands from './items/commands.ts';
import * as items from './items/contract.ts';
import * as placeCommands from './places/commands.ts';
import * as places from './places/contract.ts';
import * as recipeCommands from './recipes/commands.ts';
import * as recipes from './recipes/contract.ts';
import * as siteCommands from './sites/commands.ts';
import * as sites from './sites/contract.ts';
import * as supplierCommands from './suppliers/commands.ts';
import * as suppliers from './suppliers/contract.ts';
import * as reasonCommands from './waste-reasons/commands.ts';
import * as reasons from './waste-reasons/contract.ts';

export { findEquipment, lockEquipment } from './equipment/store.ts';
export { findIngredients, findItems, findItemsByCode, type ItemRow } from './items/store.ts';
export { findPlaces, findPlacesByCode, type PlaceRow } from './places/store.ts';
export { findRecipes, lockRecipe, type RecipeRow } from './recipes/store.ts';
export { findSites, lockSite, presumedPlaceId, type SiteRow } from './sites/store.ts';
export { findSuppliers } from './suppliers/store.ts';
export { listWasteReasons } from './waste-reasons/store.ts';

export const catalogueOperations: readonly BoundOperation[] = [
  bind(sites.createSite, siteCommands.createSiteCommand),
  bind(sites.listSites, siteCommands.listSitesQuery),
  bind(sites.getSite, siteCommands.getSiteQuery),
  bind(sites.changeSite, siteCommands.changeSiteCommand),
  bind(reasons.createWasteReason, reasonCommands.createWasteReasonCommand),
  bind(reasons.listWasteReasons, reasonCommands.listWasteReasonsQuery),
  bind(reasons.changeWasteReason, reasonCommands.changeWasteReasonCommand),
  bind(places.createPlace, placeCommands.createPlaceCommand),
  bind(places.listPlaces, placeCommands.listPlacesQuery),
  bind(places.getPlace, placeCommands.getPlaceQuery),
  bind(places.changePlace, placeCommands.changePlaceCommand),
  bind(equipment.createEquipment, equipmentCommands.createEquipmentCommand),
  bind(equipment.listEquipment, equipmentCommands.listEquipmentQuery),
  bind(equipment.getEquipment, equipmentCommands.getEquipmentQuery),
  bind(equipment.changeEquipment, equipmentCommands.changeEquipmentCommand),
  bind(suppliers.createSupplier, supplierCommands.createSupplierCommand),
  bind(suppliers.listSuppliers, supplierCommands.listSuppliersQuery),
  bind(suppliers.getSupplier, supplierCommands.getSupplierQuery),
  bind(suppliers.changeSupplier, supplierCommands.changeSupplierCommand),
  bind(items.createItem, itemCommands.createItemCommand),
  bind(items.listItems, itemCommands.listItemsQuery),
  bind(items.getItem, itemCommands.getItemQuery),
  bind(items.changeItem, itemCommands.changeItemCommand),
  bind(recipes.createRecipe, recipeCommands.createRecipeCommand),
  bind(recipes.listRecipes, recipeCommands.listRecipesQuery),
  bind(recipes.getRecipe, recipeCommands.getRecipeQuery),
  bind(recipes.changeRecipe, recipeCommands.changeRecipeCommand),
];
