export function showCheck(place) { place.replaceChildren(); }
