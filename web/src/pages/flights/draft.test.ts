import { describe, expect, it } from 'vitest'
import { afterSaved, draftOf, formOf, fresh, freeId, readDraft, type Draft } from './draft'
import { askedOf, entryOf, entryWords, KINDS, LISTS, partOf, started } from './kinds'

const day = new Date(2026, 4, 3, 9, 7)
const line = (values: Record<string, string>): Draft => {
  const entry = started('timed', 'timed0')
  return { ...fresh('a.plan.toml', day), entries: [{ ...entry, values: { ...entry.values, ...values } }] }
}

describe('a timed line', () => {
  it('becomes the part the record reads, with a comma as with a point', () => {
    const { form, open } = formOf(line({ seconds: '4,2', length_m: '100' }))
    expect(open).toEqual([])
    expect(form.date).toBe('2026-05-03T09:07')
    expect(form.timed).toEqual([
      {
        line: 'vertical down',
        slope_deg: null,
        inverted: false,
        stick_percent: null,
        crow: true,
        level: null,
        gusts: 'usual',
        seconds: 4.2,
        by: 'stopwatch',
        length_m: 100,
      },
    ])
  })

  it('asks only what its stretch needs, and drops what was typed for another', () => {
    const values = { seconds: '4', length_m: '100', stretch: 'heights', from_height_m: '150', to_height_m: '50' }
    const { form, open } = formOf(line(values))
    expect(open).toEqual([])
    expect(form.timed?.[0]).toMatchObject({ from_height_m: 150, to_height_m: 50 })
    expect(form.timed?.[0]).not.toHaveProperty('length_m')
    expect(askedOf('timed', { stretch: 'angles' }).map((one) => one.key)).toContain('distance_m')
  })

  it('says what is open, by its question', () => {
    const { open } = formOf(line({ seconds: 'four' }))
    expect(open).toEqual([
      { step: 'timed0:ask', words: 'timed line: Time over the stretch.' },
      { step: 'timed0:ask', words: 'timed line: Length of the stretch.' },
    ])
  })

  it('takes frames a second and keeps the time of one frame', () => {
    const { form } = formOf(line({ seconds: '4', length_m: '100', by: 'video', frame_s: '50' }))
    expect(form.timed?.[0]).toMatchObject({ by: 'video', frame_s: 0.02 })
    const again = draftOf('token123', 2, null, form)
    expect(again.entries[0]?.values.frame_s).toBe('50')
  })
})

describe('every kind', () => {
  const answers: Record<string, string> = { towards: 'canopy', phase: 'snap' }
  it.each(KINDS.map((of) => of.kind))('%s comes back from its form as it was', (kind) => {
    const entry = started(kind, 'one')
    const values = Object.fromEntries(
      askedOf(kind, { ...entry.values, ...answers }).map((one) => [
        one.key,
        one.kind === 'number' ? '12.5' : (entry.values[one.key] || answers[one.key]) ?? '',
      ]),
    )
    const full = { ...entry, values: { ...entry.values, ...values } }
    const { part, open } = partOf(full)
    expect(open).toEqual([])
    expect(entryOf(kind, part as Parameters<typeof entryOf>[1], 'one')).toEqual(full)
    expect(entryWords(full)).toContain(full.on.line === 'level' ? 'level' : 'vertical down')
  })
  it('has a list of the form of its own', () => {
    expect(KINDS.map((of) => of.kind).sort()).toEqual([...LISTS].sort())
  })
})

describe('ways', () => {
  it('keeps a minus as the other way and nothing where only the way is chosen', () => {
    const drift = { ...started('heading', 'h'), values: { yawed_deg: '-4', rolled_deg: '-', over_m: '100' } }
    expect(partOf(drift)).toEqual({ part: { ...drift.on, yawed_deg: -4, over_m: 100 }, open: [] })
  })
})

describe('the air', () => {
  it('is refused outside its range with the range', () => {
    const { open } = formOf({ ...line({ seconds: '4', length_m: '100' }), air: { temperature_c: '150' } })
    expect(open).toEqual([{ step: 'air', words: 'Temperature: 150 °C is outside -40 to 55 °C.' }])
  })
})

describe('a kept draft', () => {
  it('is read as it was written, and nothing else is taken for one', () => {
    const draft = line({ seconds: '4' })
    expect(readDraft(JSON.stringify(draft))).toEqual(draft)
    for (const other of [null, '', '{', '[]', '{"date": 3}', '{"date": "x", "entries": [1], "air": {}}'])
      expect(readDraft(other)).toBeNull()
    expect(readDraft(JSON.stringify({ ...draft, entries: [{ kind: 'unheard of', on: {}, values: {} }] }))).toBeNull()
  })

  it('gives every entry an id of its own', () => {
    const draft = { ...fresh(null, day), entries: [started('rolls', 'rolls1')] }
    expect(freeId(draft, 'rolls')).toBe('rolls2')
    expect(freeId(draft, 'timed')).toBe('timed1')
  })

  it('is done with once the record has it as it was sent', () => {
    const draft = line({ seconds: '4', length_m: '100' })
    const sent = { ...draft, sent: { token: 'token123', form: JSON.stringify(formOf(draft).form) } }
    expect(afterSaved(sent, 'another1', 1)).toBe(sent)
    expect(afterSaved(sent, 'token123', 0)).toBe(sent)
    expect(afterSaved(sent, 'token123', 1)).toBeNull()
    const typedOn = { ...sent, place: 'the field' }
    expect(afterSaved(typedOn, 'token123', 1)).toMatchObject({ flight: 'token123', base: 1, sent: null, place: 'the field' })
  })

  it('says that nothing was seen', () => {
    expect(formOf(fresh(null, day)).open).toEqual([{ step: 'more', words: 'Nothing is entered of what was seen.' }])
    expect(formOf({ ...fresh(null, day), notes: 'rough air' }).open).toEqual([])
  })
})
