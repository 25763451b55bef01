import { describe, expect, it } from 'vitest'
import type { FieldPage, PlaneView } from '../../../lib/generated/pages'
import { LEVEL, LONGEST_NAME, nameFor, named, parts, tried } from './tried'

const field = (path: string, value: number, given = true): FieldPage =>
  ({ path, value, given, kind: 'number', label: path, unit: '', choices: [] as string[] }) as unknown as FieldPage
const level = (value: number | string | null, ...choices: string[]): FieldPage =>
  ({ ...field(LEVEL, 0, value !== null), value, kind: 'choice', choices }) as FieldPage

const view = {
  groups: [
    { fields: [field('mass.all_up_g', 1050), field('wing.upper.span_mm', 1240)] },
    { fields: [field('propeller.diameter_in', 13), field('propeller.pitch_mm', 165), field('propeller.blades', 2)] },
    { fields: [field('controller.resistance_mohm', 4), level(0, '0', '25', '50')] },
    { fields: [field('battery.cells', 4), field('battery.capacity_mah', 2200, false)] },
    { fields: [field('servo.aileron.torque_kgf_cm', 2.6), field('servo.aileron.spline_teeth', 25)] },
  ],
} as unknown as PlaneView

describe('parts to try', () => {
  it('are those of the file, whatever their unit', () => {
    expect(parts(view).map((one) => one.path)).toEqual([
      'mass.all_up_g',
      'propeller.diameter_in',
      'propeller.pitch_mm',
      LEVEL,
      'battery.cells',
      'servo.aileron.torque_kgf_cm',
    ])
    expect(parts(null)).toEqual([])
  })

  it('are called by their table and their name', () => {
    expect(named({ ...field('propeller.pitch_in', 6), label: 'pitch' })).toBe('propeller, pitch')
    expect(named({ ...field('mass.all_up_g', 900), label: 'all-up mass' })).toBe('all-up mass')
    expect(named({ ...field('servo.aileron.torque_kgf_cm', 2.6), label: 'stall torque' })).toBe('servo, stall torque')
    expect(named(level(0, '0'))).toBe('motor brake, level')
  })

  it('are asked for only where they differ', () => {
    const texts = { 'mass.all_up_g': '1050', 'propeller.diameter_in': '12,5', 'battery.cells': '' }
    expect(tried(parts(view), texts)).toEqual({ changes: { 'propeller.diameter_in': 12.5 }, wrong: [] })
  })

  it('are named where they are no numbers', () => {
    expect(tried(parts(view), { 'battery.cells': 'five' })).toEqual({ changes: {}, wrong: ['battery.cells'] })
  })

  it('hold a level that is chosen, the one of the file too, as the file writes it', () => {
    expect(tried([level(0, '0', '50')], { [LEVEL]: '0' }).changes).toEqual({ [LEVEL]: 0 })
    expect(tried([level('off', 'off', 'hard')], { [LEVEL]: 'hard' }).changes).toEqual({ [LEVEL]: 'hard' })
    expect(tried([level(null, '1', '2')], { [LEVEL]: '2' }).changes).toEqual({ [LEVEL]: '2' })
    expect(tried([level(0, '0', '50')], { [LEVEL]: '' })).toEqual({ changes: {}, wrong: [] })
    expect(parts({ groups: [{ fields: [level(null)] }] } as unknown as PlaneView)).toEqual([])
  })

  it('make a name that is not too long', () => {
    const fields = parts(view)
    expect(nameFor('Mine', fields, { [LEVEL]: 50, 'mass.all_up_g': 1100 })).toBe('Mine, mass.all_up_g 1100, motor brake 50')
    const long = nameFor('M'.repeat(80), fields, { [LEVEL]: 50 })
    expect(long).toHaveLength(LONGEST_NAME)
    expect(long).toMatch(/^M+, motor brake 50$/)
  })
})
