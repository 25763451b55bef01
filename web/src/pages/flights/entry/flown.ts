// How a line of a recording was flown, as far as the recording tells, and what it leaves to be said.
import type { LineCutPage, LogPage } from '../../../lib/generated/pages'
import { SLOPES, START, type OnLine } from './onLine'
import { tenth } from './span'

/** Lines less steep than this going down, and all others, say nothing without their stick, degrees. */
const STICK_DECIDES_DEG = -11.5
/** Below it the throttle counts as closed, percent. */
const CLOSED_PERCENT = 3

/** Going down with crow and the throttle closed, else at the throttle that was recorded. */
export function flownOn(seen: LineCutPage, page: LogPage): OnLine {
  const named = SLOPES.find((one) => one.value === seen.line)
  return {
    ...START,
    ...(named ? { line: named.value } : { slope_deg: tenth(seen.slope_deg) }),
    crow: seen.slope_deg < -20,
    stick_percent: seen.closed_s === null ? stickIn(seen, page) : null,
  }
}

/** Middle of the throttle recorded on a line, percent; null where it was closed or not recorded. */
function stickIn(seen: LineCutPage, page: LogPage): number | null {
  const there = page.throttle_percent
    .filter((value, row): value is number => {
      const time = page.time_s[row] ?? NaN
      return value !== null && time >= seen.from_s && time <= seen.to_s
    })
    .sort((a, b) => a - b)
  const middle = there[Math.floor(there.length / 2)]
  return middle === undefined || middle < CLOSED_PERCENT ? null : Math.round(middle)
}

/** The stick must be said before anything can be learned from the line. */
export function needsStick(on: OnLine): boolean {
  const slope = on.slope_deg ?? SLOPES.find((one) => one.value === on.line)?.slope ?? 0
  return on.stick_percent === null && slope > STICK_DECIDES_DEG
}
