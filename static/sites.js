// Puts the position of this device into the form of a site, where the browser has one to give.

const METRES_PER_FOOT = 0.3048;
const sign = document.documentElement.dataset.decimals ?? ".";
const row = document.querySelector("[data-phone-position]");

// Geolocation exists in secure contexts only (HTTPS, or this very machine).
if (row && window.isSecureContext && "geolocation" in navigator) {
  const button = row.querySelector("button");
  const status = row.querySelector("[role=status]");
  const field = document.getElementById(row.dataset.field);
  const error = document.getElementById(row.dataset.errorField);
  const mark = document.getElementById(row.dataset.markField);
  const feet = row.dataset.unit === "imperial";
  const reasons = {
    1: "The browser does not allow it: allow this page to see the position, or type it.",
    2: "The device knows no position now. Go under the open sky, or type it.",
    3: "The device took too long. Try again, or type the position.",
  };

  row.hidden = false;
  button.addEventListener("click", () => {
    button.disabled = true;
    status.textContent = "Looking for the position …";
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        const degrees = [coords.latitude, coords.longitude].map((angle) => angle.toFixed(6).replace(".", sign));
        field.value = mark.value = degrees.join(sign === "." ? ", " : "; ");
        const good = Math.ceil(feet ? coords.accuracy / METRES_PER_FOOT : coords.accuracy);
        error.value = feet ? `${good} ft` : String(good);
        status.textContent = `Position taken, good to ${good} ${feet ? "ft" : "m"}.`;
        button.disabled = false;
      },
      (problem) => {
        status.textContent = reasons[problem.code] ?? "The device gave no position.";
        button.disabled = false;
      },
      { enableHighAccuracy: true, timeout: 20000, maximumAge: 0 },
    );
  });
}
