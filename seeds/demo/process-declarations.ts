/**
 * Stew that was left over went into a soup whose item declares no wheat: load and packs are held until the quality lead has seen the new
 * label on them. The finding stays open: nobody has decided yet whether the soup is to declare wheat, or stew is to stay out of it.
 */
import { derivedId } from '../../src/platform/ids.ts';
import { as } from './door.ts';
import { id, type Story } from './story.ts';

/** @param lotNames loads and packs, by example name */
export async function seeLabels(story: Story, lotNames: readonly string[]): Promise<void> {
  for (const name of lotNames) {
    const holdId = derivedId('declaration-gluten-cereals:wheat', id(name));
    await story.door.post(as('quality'), `/v1/holds/${holdId}/lift`, `hold-lift/${name}-declaration`, {
      note: 'Labels printed anew with wheat on them, and one looked at from each tray',
    });
  }
}
