// Where they are, roughly: grid square to its centre, distance and bearing on a sphere (good to 0.6 %; the server
// computes them on the ellipsoid). Mean radius of the IUGG, 6371.0088 km.

export function centreOf(grid) {
  const text = (grid ?? "").trim().toUpperCase();
  if (!/^[A-R]{2}(?:[0-9]{2}(?:[A-X]{2}(?:[0-9]{2})?)?)?$/u.test(text)) return null;
  let [longitude, latitude, width, height] = [-180, -90, 20, 10];
  for (let at = 0; at < text.length; at += 2) {
    const letters = at % 4 === 0;
    if (at === 2) [width, height] = [2, 1];
    else if (at === 4) [width, height] = [width / 24, height / 24];
    else if (at === 6) [width, height] = [width / 10, height / 10];
    const value = (index) => (letters ? text.charCodeAt(index) - 65 : Number(text[index]));
    longitude += value(at) * width;
    latitude += value(at + 1) * height;
  }
  return {latitude: latitude + height / 2, longitude: longitude + width / 2, width, height};
}

export function way(from, to) {
  const rad = Math.PI / 180;
  const [a, b] = [from.latitude * rad, to.latitude * rad];
  const d = (to.longitude - from.longitude) * rad;
  const h = Math.sin((b - a) / 2) ** 2 + Math.cos(a) * Math.cos(b) * Math.sin(d / 2) ** 2;
  const km = 2 * 6371.0088 * Math.asin(Math.min(1, Math.sqrt(h)));
  const bearing = Math.atan2(Math.sin(d) * Math.cos(b), Math.cos(a) * Math.sin(b) - Math.sin(a) * Math.cos(b) * Math.cos(d)) / rad;
  return {km, bearing: (bearing + 360) % 360};
}
