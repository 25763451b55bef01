import { describe, expect, it } from 'vitest'
import type { SeasonRowPage } from '../../lib/generated/pages'
import { drawSeason } from './seasonDrawing'

const row = (date: string, value: number | null, what: SeasonRowPage['what'] = 'learned'): SeasonRowPage => ({
  date,
  what,
  words: '',
  why: '',
  effect: '',
  down_m_s: value === null ? null : { value, spread: 1, causes: [] },
})

describe('the season', () => {
  it('is no picture with one speed', () => {
    expect(drawSeason([row('2026-05-01', 24)], 20, 600)).toBeNull()
    expect(drawSeason([row('2026-05-01', 24), row('someday', 22)], 20, 600)).toBeNull()
  })

  it('runs from the first date to the last, faster is higher, changes between', () => {
    const newestFirst = [row('2026-06-01', 20.5), row('2026-05-11', null, 'change'), row('2026-05-01', 24)]
    const drawing = drawSeason(newestFirst, 20, 600)
    if (drawing === null) throw new Error('no drawing')
    const [first, last] = drawing.points
    expect(first?.x).toBeLessThan(last?.x ?? 0)
    expect(first?.y).toBeLessThan(last?.y ?? 0)
    expect(first?.high).toBeLessThan(first?.low ?? 0)
    expect(drawing.wanted).toBeGreaterThan(last?.y ?? 0)
    expect(drawing.changes[0]?.x).toBeGreaterThan(first?.x ?? 0)
    expect(drawing.changes[0]?.x).toBeLessThan(last?.x ?? 0)
    expect(drawing.reading).toContain('2026-05-01')
  })

  it('keeps the order of one day, whether a time was written down or not', () => {
    const newestFirst = [row('2026-05-01', 20), row('2026-05-01', null, 'change'), row('2026-05-01T18:30', 22)]
    const drawing = drawSeason(newestFirst, null, 600)
    if (drawing === null) throw new Error('no drawing')
    const [first, last] = drawing.points
    expect(first?.x).toBeLessThan(drawing.changes[0]?.x ?? 0)
    expect(drawing.changes[0]?.x).toBeLessThan(last?.x ?? 0)
    expect(first?.y).toBeLessThan(last?.y ?? 0)
    expect(drawing.days).toHaveLength(1)
  })
})
