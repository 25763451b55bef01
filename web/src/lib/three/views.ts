// Where the plane may be looked at from: azimuth from straight behind, positive to its left, and elevation; rad.
export const VIEWS = {
  pilot: { name: 'Behind and above', from: [0.42, 0.5] },
  behind: { name: 'Behind', from: [0, 0.0] },
  above: { name: 'Above', from: [0, Math.PI / 2] },
  side: { name: 'Left side', from: [Math.PI / 2, 0.0] },
  front: { name: 'Front', from: [Math.PI, 0.0] },
} as const satisfies Record<string, { name: string; from: readonly [number, number] }>

export type View = keyof typeof VIEWS
