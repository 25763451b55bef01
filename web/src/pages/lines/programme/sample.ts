// A flight made up for tests: level to the right, half a loop up, back inverted.
import type { FlyFigurePage, FlyPage, FlyPartPage, FlyTrack } from '../../../lib/generated/pages'

export const WANTED = 20
const TIMES = [0, 1, 2, 3, 4, 5]
const RATHER = [20, 20.5, 21.5, 22.5, 18.5, 20]

export const track: FlyTrack = {
  time_s: TIMES,
  place_m: [0, 20, 40, 62, 82, 100],
  x_m: [-20, 0, 20, 30, 20, 0],
  y_m: [0, 0, 0, 0, 0, 0],
  height_m: [60, 60, 60, 70, 80, 80],
  forward: [[1, 0, 0], [1, 0, 0], [1, 0, 0], [0, 0, 1], [-1, 0, 0], [-1, 0, 0]],
  canopy: [[0, 0, 1], [0, 0, 1], [0, 0, 1], [-1, 0, 0], [0, 0, -1], [0, 0, -1]],
  figure: [1, 1, 1, 2, 2, 2],
  part: [1, 1, 1, 1, 2, 2],
  speed_m_s: RATHER,
  counted: [true, true, true, true, true, false],
  stick_percent: [40, 45, 50, 80, 20, 40],
  deployment_percent: [0, 0, 0, 0, 30, 0],
  shaft_rpm: TIMES.map((time) => 6000 + 100 * time),
  closed: [false, false, false, false, true, false],
  thrust_n: TIMES.map(() => 3),
  current_a: TIMES.map(() => 10),
  voltage_v: TIMES.map(() => 16),
  left_percent: [100, 99, 98, 97, 96, 95],
  load: [1, 1, 1, 3, -1, -1],
  incidence_deg: TIMES.map(() => 1),
}

const plain = { slowest_m_s: 20, fastest_m_s: 22, why: 'even', why_words: '', thrust_n: 3, drag_n: 3, weight_along_n: 0, load_low: 1, load_high: 1, low_m: 60, high_m: 80, aside_deg: 10, up_deg: 20, stick_percent: 50, deployment_percent: 0 }

const part = (more: Partial<FlyPartPage>): FlyPartPage => ({
  ...plain,
  figure: 1,
  part: 1,
  words: 'level, 40 m',
  begins_m: 0,
  ends_m: 40,
  begins_s: 0,
  ends_s: 2,
  speed_m_s: { value: 20.5, spread: null },
  worst_off_m_s: 0.5,
  worst_at_m: 30,
  why_short: '',
  counted: true,
  estimated: false,
  ...more,
})

const figure = (more: Partial<FlyFigurePage>): FlyFigurePage => ({
  number: 1,
  name: 'Level',
  flown: true,
  speed_m_s: 20.5,
  unevenness_percent: 2,
  worst_off_m_s: 0.5,
  worst_part: 1,
  why_short: '',
  why_words: '',
  low_m: 60,
  high_m: 60,
  load_low: 1,
  load_high: 1,
  charge_mah: 5,
  parts: [part({})],
  ...more,
})

export const page: FlyPage = {
  plane: 'Made up',
  plane_hash: '0',
  plan: 'plane.plan.toml',
  sequence: 'Two figures',
  invented: true,
  wanted_speed_m_s: WANTED,
  density_kg_m3: 1.225,
  wind: 'calm',
  ended: 'flown',
  ended_words: '',
  unevenness_percent: { value: 6, spread: null },
  within_percent: 60,
  duration_s: { value: 5, spread: null },
  length_m: 100,
  charge_mah: { value: 10, spread: null },
  left_percent: 95,
  energy_wh: 0.2,
  current_a: 10,
  voltage_v: 16,
  fastest_m_s: 22.5,
  servo: null,
  box: { distance_m: 150, side_deg: 60, elevation_deg: 60, lowest_m: 5, used_side_deg: 11, used_elevation_deg: 28, used_low_m: 60, used_high_m: 80 },
  figures: [
    figure({}),
    figure({
      number: 2,
      name: 'Half loop',
      worst_off_m_s: 2.5,
      why_short: 'closed band',
      parts: [
        part({ figure: 2, begins_m: 40, ends_m: 70, begins_s: 2, ends_s: 3.4, worst_off_m_s: 2.5, worst_at_m: 62, why_short: 'closed band', estimated: true }),
        part({ figure: 2, part: 2, begins_m: 70, ends_m: 100, begins_s: 3.4, ends_s: 5, worst_off_m_s: -1.5, worst_at_m: 82 }),
      ],
    }),
  ],
  findings: [],
  words: [],
  limits: [],
  track,
}
