/** What a request would be told. Observations are never refused, so they have no place here. */
import { placeAccount, siteOfPlace, useByOf } from './atlas.ts';
import type {
  BatchInputFact,
  DispatchFact,
  LotAtPlace,
  MoveFact,
  OpenHold,
  OracleState,
  PackingFact,
} from './types.ts';

export type OracleRequest = BatchInputFact | PackingFact | DispatchFact | MoveFact;
type OracleRefusal = 'insufficient-stock' | 'on-hold' | 'past-use-by' | 'own-ancestor';

/** `leave` and `serve` are what a pending release or laboratory answer forbids; `make` is batch or packing. */
type OraclePurpose = 'make' | 'leave' | 'serve' | 'move-within-site';

const PENDING_KINDS = ['awaiting-release', 'awaiting-laboratory'];
const DRILL_KINDS = ['drill'];

function covers(state: OracleState, hold: OpenHold, lotId: string, placeId: string): boolean {
  if (hold.lotId !== lotId) return false;
  if (hold.scope === 'everywhere') return true;
  if ('placeId' in hold.scope) return hold.scope.placeId === placeId;
  return hold.scope.siteId === siteOfPlace(state.world, placeId);
}

function forbids(holdKind: string, purpose: OraclePurpose): boolean {
  if (DRILL_KINDS.includes(holdKind) || purpose === 'move-within-site') return false;
  return PENDING_KINDS.includes(holdKind) ? purpose !== 'make' : true;
}

/**
 * What is there and free, never below zero. Without a purpose any binding hold that covers the part leaves nothing
 * free; with one, only the holds that forbid that purpose do.
 */
export function freeQuantity(state: OracleState, lotId: string, placeId: string, purpose?: OraclePurpose): number {
  const held = state.openHolds.some(
    (hold) => covers(state, hold, lotId, placeId) && forbids(hold.holdKind, purpose ?? 'serve'),
  );
  return held ? 0 : Math.max(0, state.net.get(`${lotId}|${placeAccount(placeId)}`) ?? 0);
}

function takingsOf(request: OracleRequest): LotAtPlace[] {
  switch (request.kind) {
    case 'batch-input':
      return [request];
    case 'packing':
      return request.fills.map((f) => ({ lotId: f.fromLotId, placeId: f.placeId, quantity: f.usedQuantity }));
    case 'dispatch':
      return [...request.lines];
    case 'move':
      return [{ lotId: request.lotId, placeId: request.fromPlaceId, quantity: request.quantity }];
  }
}

function purposeOf(state: OracleState, request: OracleRequest): OraclePurpose {
  if (request.kind === 'dispatch') return 'leave';
  if (request.kind !== 'move') return 'make';
  const within = siteOfPlace(state.world, request.fromPlaceId) === siteOfPlace(state.world, request.toPlaceId);
  return within ? 'move-within-site' : 'leave';
}

/** Every reason to refuse, in no order that the product need share; empty when it would be accepted. */
export function wouldRefuse(state: OracleState, request: OracleRequest): Set<OracleRefusal> {
  const refusals = new Set<OracleRefusal>();
  const purpose = purposeOf(state, request);
  const takings = takingsOf(request);
  for (const taking of takings) {
    const { lotId, placeId } = taking;
    const wanted = takings
      .filter((t) => t.lotId === lotId && t.placeId === placeId)
      .reduce((sum, t) => sum + t.quantity, 0);
    const there = state.net.get(`${lotId}|${placeAccount(placeId)}`) ?? 0;
    if (wanted > there) refusals.add('insufficient-stock');
    if (state.openHolds.some((h) => covers(state, h, lotId, placeId) && forbids(h.holdKind, purpose))) {
      refusals.add('on-hold');
    }
    if (purpose !== 'move-within-site' && request.occurredAt > useByOf(state.world, lotId)) {
      refusals.add('past-use-by');
    }
  }
  if (request.kind === 'batch-input') {
    const outputs = state.liveFacts.filter((f) => f.kind === 'batch-output' && f.batchId === request.batchId);
    const descends = outputs.some(
      (f) => f.kind === 'batch-output' && state.trace(f.lotId, 'forward').lots.has(request.lotId),
    );
    if (descends) refusals.add('own-ancestor');
  }
  return refusals;
}
