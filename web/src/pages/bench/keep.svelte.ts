// The hand on the plan: shown at once, saved when the hand lets go.
import type { PlanChanges } from '../../lib/generated/pages'
import { live } from '../../lib/live.svelte'
import { place } from '../../lib/place.svelte'

/** Why the plan cannot be changed; empty where it can. */
export function locked(): string {
  if (live.readOnly) return 'You may look at everything here; the plan is changed where Evenfall runs.'
  if (place.plan === null) return 'This is the plane as it is now. Tune it, and the plan can be changed here.'
  if (place.plan.frozen_on !== null) {
    return 'This plan is frozen and is never changed. Make it the plane’s own plan again to go on from it.'
  }
  if (!place.plan.usable) return 'This plan file has faults; put them right first.'
  return ''
}

/** While the hand moves: predicted, not saved. */
export function show(changes: PlanChanges): void {
  if (locked() === '') place.draft = changes
}

/** The hand lets go: saved, or put back where that is refused. */
export async function keep(changes: PlanChanges): Promise<boolean> {
  const [plane, plan] = [place.plane, place.plan]
  if (plane === null || plan === null || locked() !== '') return false
  place.draft = changes
  const done = await live.try({ what: 'plan.set', plane: plane.file, file: plan.file, changes })
  if (place.draft === changes) place.draft = null
  return done
}
