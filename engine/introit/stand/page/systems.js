// Where beats stand in the engraved passage. Pure.

// The last of those that begin by a beat; they rise.
export function latest(list, beat) {
  let found = null;
  for (const one of list) {
    if (one.beat > beat + 0.02) break;
    found = one;
  }
  return found;
}

// Where in a system a beat stands, from 0 to 1; null where it is in another one.
export function across(places, beat, end) {
  if (!places.length || beat < places[0][0] - 0.001 || beat >= end) return null;
  for (let index = 0; index < places.length; index += 1) {
    const [from, x] = places[index];
    const [to, next] = places[index + 1] ?? [end, 0.985];
    if (beat < to) return x + ((next - x) * (beat - from)) / Math.max(0.001, to - from);
  }
  return null;
}

// The other way: the beat at a place from 0 to 1; the nearest there is.
export function beatAt(places, x, end) {
  if (!places.length) return null;
  for (let index = 0; index < places.length; index += 1) {
    const [from, left] = places[index];
    const [to, right] = places[index + 1] ?? [end, 0.985];
    if (x < right) return x <= left ? from : from + ((to - from) * (x - left)) / Math.max(0.001, right - left);
  }
  return end - 0.001;
}

// What of a span of beats lies in a system, as [from, to] from 0 to 1; null for nothing.
export function piece({ places, end }, from, to) {
  if (!places.length) return null;
  const begins = places[0][0];
  if (to <= begins || from >= end) return null;
  const left = from <= begins ? places[0][1] : across(places, from, end);
  const right = to >= end ? 0.985 : across(places, to, end);
  return left === null || right === null ? null : [left, right];
}
