import { beforeEach, expect, it, vi } from 'vitest'
import { keepClicks, keptClicks, Sighting, videoKey } from './sighting.svelte'

const FRAME = { width: 1920, height: 1080 }

function clicked(count: number): Sighting {
  const sighting = new Sighting()
  for (let k = 0; k < count; k++) sighting.place(0.1 * k, { x: 960, y: 100 + 50 * k })
  return sighting
}

it('has one place a frame, in order of time', () => {
  const sighting = clicked(3)
  sighting.place(0.05, { x: 1, y: 2 })
  sighting.place(0.1, { x: 950.04, y: 151.26 })
  expect(sighting.clicks.map((click) => click.t_s)).toEqual([0, 0.05, 0.1, 0.2])
  expect(sighting.clicks[2]).toEqual({ t_s: 0.1, x_px: 950, y_px: 151.3 })
})

it('takes back mark by mark, a nudge with its mark', () => {
  const sighting = clicked(2)
  sighting.move(0.1, { x: 961, y: 150 })
  expect(sighting.at(0.1)).toMatchObject({ x_px: 961 })
  sighting.undo()
  expect(sighting.clicks).toHaveLength(1)
  sighting.undo()
  expect(sighting.clicks).toHaveLength(0)
  expect(sighting.canUndo).toBe(false)
  const cleared = clicked(4)
  cleared.clear()
  cleared.undo()
  expect(cleared.clicks).toHaveLength(4)
})

it('guesses the plane on from the marks before, or back from those after', () => {
  const sighting = clicked(3)
  expect(sighting.guess(0.3)?.y).toBeCloseTo(250, 9)
  expect(sighting.guess(0.15)?.y).toBeCloseTo(175, 9)
  expect(sighting.guess(-0.1)?.y).toBeCloseTo(50, 9)
  expect(new Sighting().guess(1)).toBeNull()
})

it('says what is missing until it is there', () => {
  const sighting = clicked(4)
  expect(sighting.missing()).toEqual(['1 more click on the plane', 'the distance to the line', 'the field of view', 'the horizon'])
  expect(sighting.part('a.mp4', FRAME)).toBeNull()
  sighting.place(0.5, { x: 960, y: 400 })
  sighting.type('distance', '60')
  sighting.type('angle', '62,5')
  sighting.target = 'horizon'
  sighting.place(0.5, { x: 10, y: 1020.4 })
  expect(sighting.target).toBe('plane')
  expect(sighting.missing()).toEqual([])
  const part = sighting.part('a.mp4', FRAME)
  expect(part).toMatchObject({ file: 'a.mp4', width_px: 1920, height_px: 1080, distance_m: 60, field_of_view_deg: 62.5, horizon_y_px: 1020 })
  expect(part?.clicks).toHaveLength(5)
  expect(part).not.toHaveProperty('camera_elevation_deg')
  expect(part).not.toHaveProperty('span_px')
})

it('gives one scale and one level only, whatever else was typed before', () => {
  const sighting = clicked(5)
  for (const [text, value] of [['distance', '60'], ['angle', '60'], ['apart', '30'], ['away', '50'], ['horizon', '500'], ['span', '1.24']] as const)
    sighting.type(text, value)
  sighting.useWay('span')
  sighting.target = 'span 1'
  sighting.place(0, { x: 100, y: 200 })
  sighting.place(0, { x: 130, y: 240 })
  sighting.useLevel('elevation')
  sighting.type('elevation', '25')
  const part = sighting.part('a.mp4', FRAME)
  expect(part).toMatchObject({ span_px: 50, span_m: 1.24, span_y_px: 220, camera_elevation_deg: 25 })
  for (const key of ['field_of_view_deg', 'markers_px', 'horizon_y_px']) expect(part).not.toHaveProperty(key)
  sighting.useWay('markers')
  expect(sighting.target).toBe('plane')
  expect(sighting.missing()).toEqual(['clicks on both markers'])
})

it('offers only what the chosen scale and level need', () => {
  const sighting = new Sighting()
  const values = (): string[] => sighting.targets.map((target) => target.value)
  expect(values()).toEqual(['plane', 'horizon'])
  sighting.useWay('markers')
  sighting.useLevel('elevation')
  expect(values()).toEqual(['plane', 'marker 1', 'marker 2'])
})

beforeEach(() => {
  const kept = new Map<string, string>()
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
  })
})

it('keeps the clicks of a video by its name and size', () => {
  const key = videoKey({ name: 'a.mp4', size: 5 })
  keepClicks(key, clicked(3).kept())
  expect(keptClicks(videoKey({ name: 'a.mp4', size: 6 }))).toBeNull()
  const sighting = new Sighting()
  sighting.restore(keptClicks(key))
  expect(sighting.clicks).toHaveLength(3)
  keepClicks(key, null)
  expect(keptClicks(key)).toBeNull()
  localStorage.setItem('evenfall.clicks', '[["x", 3], 4]')
  expect(keptClicks('x')).toBeNull()
})
