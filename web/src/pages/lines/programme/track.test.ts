import { describe, expect, it } from 'vitest'
import { page, track, WANTED } from './sample'
import { againstPath, LEFT, stripOf, stripPoints } from './strip'
import { beginsAt, kindOf, momentAt, placeIn, programmeReading, runsOf, timeAt, worstPlaces } from './track'

describe('a place in a rising list', () => {
  it('is found before, within and beyond it', () => {
    expect(placeIn([0, 2, 4], -1)).toEqual({ k: 0, share: 0 })
    expect(placeIn([0, 2, 4], 3)).toEqual({ k: 1, share: 0.5 })
    expect(placeIn([0, 2, 4], 9)).toEqual({ k: 1, share: 1 })
    expect(placeIn([], 1)).toEqual({ k: 0, share: 0 })
  })
  it('is found where the list stands still', () => {
    const { k, share } = placeIn([0, 1, 1, 2], 1)
    expect(k + share).toBeGreaterThanOrEqual(1)
    expect(share).toBeLessThan(1)
  })
})

describe('the plane at a time', () => {
  it('lies on the track at its points', () => {
    track.time_s.forEach((time, k) => {
      const moment = momentAt(track, time)
      expect(moment.x).toBeCloseTo(track.x_m[k] ?? NaN)
      expect(moment.height).toBeCloseTo(track.height_m[k] ?? NaN)
      expect(moment.speed).toBeCloseTo(track.speed_m_s[k] ?? NaN)
      expect(moment.figure).toBe(track.figure[k])
    })
  })
  it('lies between them, its axes of length one', () => {
    const moment = momentAt(track, 2.5)
    expect(moment.place).toBeCloseTo(51)
    expect(Math.hypot(...moment.forward)).toBeCloseTo(1)
    expect(moment.forward[0]).toBeCloseTo(moment.forward[2])
    expect(moment.figure).toBe(2)
  })
  it('stays within the flight', () => {
    expect(momentAt(track, -3).time).toBe(0)
    expect(momentAt(track, 99).time).toBe(5)
    expect(momentAt({ ...track, left_percent: [] }, 1).left).toBeNull()
  })
  it('passes a place once', () => {
    for (const time of [0, 0.7, 2.5, 4.9]) expect(timeAt(track, momentAt(track, time).place)).toBeCloseTo(time)
  })
})

describe('runs of one kind', () => {
  it('name what is off by more than the band, and by much', () => {
    expect(kindOf(20.9, WANTED, true)).toBe('even')
    expect(kindOf(21.1, WANTED, true)).toBe('fast')
    expect(kindOf(22.1, WANTED, true)).toBe('faster')
    expect(kindOf(18.9, WANTED, true)).toBe('slow')
    expect(kindOf(17.9, WANTED, true)).toBe('slower')
    expect(kindOf(5, WANTED, false)).toBe('free')
  })
  it('join without a gap from the first point to the last', () => {
    const runs = runsOf(track, WANTED)
    expect(runs.map((run) => run.kind)).toEqual(['even', 'fast', 'faster', 'slow', 'free'])
    expect(runs[0]?.from).toBe(0)
    expect(runs.at(-1)?.to).toBe(track.time_s.length - 1)
    runs.slice(1).forEach((run, k) => expect(run.from).toBe(runs[k]?.to))
  })
})

describe('worst places', () => {
  it('are told with speed, cause and that they are estimates', () => {
    const [one, ...more] = worstPlaces(page)
    expect(more).toEqual([])
    expect(one?.words).toBe('+2.5 m/s, closed band (estimate)')
    expect(one?.time).toBeCloseTo(3)
    expect(programmeReading(page)).toBe('60 % of the time within 5 % of 20.0 m/s. Farthest off in figure 2 (Half loop): +2.5 m/s, closed band (estimate).')
  })
  it('are none where every figure is even', () => {
    const even = { ...page, figures: page.figures.slice(0, 1) }
    expect(worstPlaces(even)).toEqual([])
    expect(programmeReading(even)).toContain('No figure leaves it.')
  })
})

describe('the strip', () => {
  const strip = stripOf(page, 800, 180)
  it('goes from the first time to the last, faster up', () => {
    expect(strip.x(0)).toBe(LEFT)
    expect(strip.x(5)).toBe(800)
    expect(strip.y(1)).toBeLessThan(strip.y(0))
    expect(strip.y(-99)).toBeLessThanOrEqual(180)
    expect(strip.marks).toContain(0)
    expect(strip.figures.map((figure) => figure.from)).toEqual(page.figures.map((figure) => strip.x(beginsAt(figure))))
    for (const [x, y] of stripPoints(track, WANTED, strip)) {
      expect(x).toBeGreaterThanOrEqual(LEFT)
      expect(y).toBeGreaterThanOrEqual(0)
    }
  })
  it('shows the second flight at the places of the first', () => {
    expect(againstPath(page, strip)).toBe('')
    const slower = { ...page, track: { ...track, time_s: track.time_s.map((time) => 2 * time) } }
    const both = { ...page, against: slower }
    expect(againstPath(both, stripOf(both, 800, 180))).toBe(againstPath({ ...page, against: page }, stripOf({ ...page, against: page }, 800, 180)))
  })
})
