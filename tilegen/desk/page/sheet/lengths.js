// @ts-check
// Lengths as a plan writes them.

/** A length as it is written in a plan, in mm: "1.25 in", "31 mm", "3/4 in", a bare number. @param {string | undefined} text @param {number} usual */
export function mm(text, usual) {
  const match = /^\s*(?:(\d+)\s+)?([\d.]+)(?:\/([\d.]+))?\s*(mm|cm|in|"|inch(?:es)?)?\s*$/.exec(text || "");
  if (!match) return usual;
  const value = Number(match[1] || 0) + Number(match[2]) / Number(match[3] || 1);
  return value * ({ cm: 10, in: 25.4, '"': 25.4, inch: 25.4, inches: 25.4 }[match[4]] || 1) || usual;
}

/** Whether a plan's own measures are metric: where its space is. @param {any} plan */
const metric = (plan) => /mm|cm|^[\d.]+$/.test(plan.measures?.pitch || "");

/** A length as the plan's own measures are written. @param {number} value in mm @param {any} plan */
export const length = (value, plan) => (metric(plan) ? `${Math.round(value * 10) / 10} mm` : `${Math.round((value / 25.4) * 100) / 100} in`);

/** By how much a length goes up or down under the hand, in mm: 2 mm, or a tenth of an inch. @param {any} plan */
export const stepOf = (plan) => (metric(plan) ? 2 : 2.54);
