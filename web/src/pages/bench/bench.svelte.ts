// What the parts of the bench page share: sticks, phase, switch. Kept for the next visit.
import type { StickState } from '../../lib/ui/Sticks.svelte'

const KEPT = 'evenfall.sticks'
type Side = 'left' | 'right'

class BenchState {
  sticks = $state.raw<StickState>({ throttle: 1, aileron: 0, elevator: 0, rudder: 0 })
  /** Name of the chosen phase; empty: the first normal one. */
  phase = $state('')
  /** The crow switch is on. */
  crowSwitch = $state(true)
  throttleSide = $state<Side>('left')
  aileronSide = $state<Side>('right')

  constructor() {
    try {
      const kept = JSON.parse(localStorage.getItem(KEPT) ?? '{}') as { throttle?: Side; aileron?: Side }
      if (kept.throttle) this.throttleSide = kept.throttle
      if (kept.aileron) this.aileronSide = kept.aileron
    } catch {
      // Nothing kept, or not readable: the usual sides.
    }
  }

  place(throttle: Side, aileron: Side): void {
    this.throttleSide = throttle
    this.aileronSide = aileron
    try {
      localStorage.setItem(KEPT, JSON.stringify({ throttle, aileron }))
    } catch {
      // Not kept: the choice still holds for this page.
    }
  }
}

export const bench = new BenchState()
