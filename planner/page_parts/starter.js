for (const figure of document.querySelectorAll("figure.chart")) {
  const spec = JSON.parse(figure.querySelector("script.spec").textContent);
  const place = document.createElement("div");
  place.className = "live";
  place.hidden = true;
  figure.appendChild(place);
  vegaEmbed(place, spec, { mode: "vega-lite", renderer: "svg", actions: false }).then(
    () => { figure.querySelector(".picture").remove(); place.hidden = false; figure.dataset.drawn = "live"; },
    (error) => { place.remove(); figure.dataset.drawn = "picture"; console.error(error); });
}
