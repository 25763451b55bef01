import { expect, it } from 'vitest'
import type { LineCutPage, LogPage } from '../../../lib/generated/pages'
import { flownOn, needsStick } from './flown'
import { START } from './onLine'

const line = (changes: Partial<LineCutPage>): LineCutPage => ({
  from_s: 2, to_s: 5, line: 'vertical down', slope_deg: -89, slope_sigma_deg: 1, speed_from_m_s: 20, speed_to_m_s: 24,
  length_m: 66, across_m: 0.4, closed_s: null, doubts: [], ...changes,
})
const page = (throttle: (number | null)[]): LogPage => {
  const none = throttle.map(() => null)
  return {
    file: 'a.csv', kind: 'csv', columns: [], choices: [], delimiter: '', notes: [], lines: [], wind: '',
    time_s: throttle.map((_, row) => row), height_m: none, east_m: none, north_m: none, speed_m_s: none,
    throttle_percent: throttle, shaft_rpm: none,
  }
}

it('takes line, crow and a closed throttle from the recording', () => {
  const on = flownOn(line({ closed_s: [2.2, 5] }), page([60, 60, 60, 0, 0, 0]))
  expect(on).toMatchObject({ line: 'vertical down', slope_deg: null, crow: true, stick_percent: null })
  expect(needsStick(on)).toBe(false)
})

it('takes the stick that was recorded on the line, not beside it', () => {
  const on = flownOn(line({ line: '45 up', slope_deg: 44 }), page([0, 0, 81, 80, 79.6, 90, 0, 0]))
  expect(on).toMatchObject({ line: '45 up', crow: false, stick_percent: 81 })
  expect(needsStick(on)).toBe(false)
})

it('asks for the stick where it decides and was not recorded', () => {
  const on = flownOn(line({ line: 'level', slope_deg: 0.4 }), page([null, null, null, null, null, null]))
  expect(on.stick_percent).toBeNull()
  expect(needsStick(on)).toBe(true)
  expect(needsStick({ ...on, line: '45 down' })).toBe(false)
})

it('keeps the slope of a line that is none of the ladder', () => {
  const on = flownOn(line({ line: '', slope_deg: -63.27 }), page([]))
  expect(on).toMatchObject({ slope_deg: -63.3, crow: true })
  expect(needsStick(on)).toBe(false)
  expect(needsStick({ ...START, slope_deg: 10 })).toBe(true)
})
