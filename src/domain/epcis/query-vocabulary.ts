/** Words of EPCIS 2.0 and CBV 2.0 that a query may name. Source: gs1/EPCIS, query-schema.json (2.0.0), read, not copied from memory. */

export const EVENT_TYPES = [
  'ObjectEvent',
  'AggregationEvent',
  'TransactionEvent',
  'TransformationEvent',
  'AssociationEvent',
] as const;

export const ACTIONS = ['ADD', 'OBSERVE', 'DELETE'] as const;

export const ERROR_REASONS = ['did_not_occur', 'incorrect_data'] as const;

const words = (text: string): readonly string[] => text.trim().split(/\s+/);

export const BIZ_STEPS = words(`
  accepting arriving assembling collecting commissioning consigning creating_class_instance cycle_counting decommissioning
  departing destroying disassembling dispensing encoding entering_exiting holding inspecting installing killing loading other
  packing picking receiving removing repackaging repairing replacing reserving retail_selling sampling sensor_reporting shipping
  staging_outbound stock_taking stocking storing transporting unloading unpacking void_shipping`);

export const DISPOSITIONS = words(`
  active available completeness_inferred completeness_verified conformant container_closed container_open damaged destroyed
  dispensed disposed encoded expired in_progress in_transit inactive mismatch_class mismatch_instance mismatch_quantity
  needs_replacement no_pedigree_match non_conformant non_sellable_other partially_dispensed recalled reserved retail_sold
  returned sellable_accessible sellable_not_accessible stolen unavailable unknown`);
