export function showDrills(place) { place.replaceChildren(); }
