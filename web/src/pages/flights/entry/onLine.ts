// How a line was flown: what the form starts with, and its words.
import type { HeldPart } from '../../../lib/generated/pages'

/** The keys every part flown on a line has. */
export type OnLine = Required<HeldPart>
export type LineName = OnLine['line']

export const SLOPES: readonly { value: LineName; label: string; slope: number }[] = [
  { value: 'vertical down', label: 'vertical down', slope: -90 },
  { value: '45 down', label: '45° down', slope: -45 },
  { value: 'level', label: 'level', slope: 0 },
  { value: '45 up', label: '45° up', slope: 45 },
  { value: 'vertical up', label: 'vertical up', slope: 90 },
]

export const START: OnLine = {
  line: 'vertical down',
  slope_deg: null,
  inverted: false,
  stick_percent: null,
  crow: true,
  level: null,
  gusts: 'usual',
}

/** Going down the throttle is closed and crow is out, elsewhere not: another line takes what is usual on it. */
export function onOther(before: OnLine, line: LineName): OnLine {
  const down = line.endsWith('down')
  return { ...before, line, slope_deg: null, crow: down, stick_percent: down ? null : before.stick_percent }
}

/** The line in a few words, for a list. */
export function lineWords(on: OnLine): string {
  const named = SLOPES.find((one) => one.value === on.line)?.label ?? on.line
  const slope = on.slope_deg === null ? named : `${Math.abs(on.slope_deg)}° ${on.slope_deg < 0 ? 'down' : 'up'}`
  return [slope, on.inverted ? 'inverted' : '', on.crow ? 'crow' : 'no crow', on.stick_percent === null ? '' : `stick ${on.stick_percent} %`]
    .filter(Boolean)
    .join(', ')
}
