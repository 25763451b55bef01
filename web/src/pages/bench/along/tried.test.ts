import { describe, expect, it } from 'vitest'
import type { FieldPage, PlaneView } from '../../../lib/generated/pages'
import { named, parts, tried } from './tried'

const field = (path: string, value: number, given = true): FieldPage =>
  ({ path, value, given, kind: 'number', label: path, unit: '' }) as FieldPage

const view = {
  groups: [
    { fields: [field('mass.all_up_g', 1050), field('wing.upper.span_mm', 1240)] },
    { fields: [field('propeller.diameter_in', 13), field('propeller.pitch_mm', 165), field('propeller.blades', 2)] },
    { fields: [field('battery.cells', 4), field('battery.capacity_mah', 2200, false)] },
  ],
} as unknown as PlaneView

describe('parts to try', () => {
  it('are those of the file, whatever their unit', () => {
    expect(parts(view).map((one) => one.path)).toEqual([
      'mass.all_up_g',
      'propeller.diameter_in',
      'propeller.pitch_mm',
      'battery.cells',
    ])
    expect(parts(null)).toEqual([])
  })

  it('are called by their table and their name', () => {
    expect(named({ ...field('propeller.pitch_in', 6), label: 'pitch' })).toBe('propeller, pitch')
    expect(named({ ...field('mass.all_up_g', 900), label: 'all-up mass' })).toBe('all-up mass')
  })

  it('are asked for only where they differ', () => {
    const texts = { 'mass.all_up_g': '1050', 'propeller.diameter_in': '12,5', 'battery.cells': '' }
    expect(tried(parts(view), texts)).toEqual({ changes: { 'propeller.diameter_in': 12.5 }, wrong: [] })
  })

  it('are named where they are no numbers', () => {
    expect(tried(parts(view), { 'battery.cells': 'five' })).toEqual({ changes: {}, wrong: ['battery.cells'] })
  })
})
