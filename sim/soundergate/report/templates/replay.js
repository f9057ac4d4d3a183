"use strict";
(() => {
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)");

  // last index i with rows[i][0] <= time, or -1
  const lastUpTo = (rows, time) => {
    let low = 0, high = rows.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (rows[middle][0] <= time) low = middle + 1; else high = middle;
    }
    return low - 1;
  };

  const between = (rows, time, column) => {
    const i = lastUpTo(rows, time);
    if (i < 0) return rows[0][column];
    if (i + 1 >= rows.length) return rows[i][column];
    const span = rows[i + 1][0] - rows[i][0];
    const share = span > 0 ? (time - rows[i][0]) / span : 1;
    return rows[i][column] + share * (rows[i + 1][column] - rows[i][column]);
  };

  const minutes = (seconds) => {
    const tenths = Math.round(Math.abs(seconds) * 10);
    const sign = seconds < 0 && tenths ? "\u2212" : "";
    return `${sign}${Math.floor(tenths / 600)} min ${((tenths % 600) / 10).toFixed(1)} s`;
  };

  const clock = (seconds) => {
    const whole = Math.floor(seconds / 60);
    return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
  };

  const start = (root) => {
    const night = JSON.parse(root.querySelector(".replay-data").textContent);
    const find = (name) => root.querySelector(name);
    const pigs = [...root.querySelectorAll(".plan .pig")];
    const bodies = pigs.map((pig) => pig.querySelector(".body"));
    const names = pigs.map((pig) => pig.querySelector("text"));
    const gates = [...root.querySelectorAll(".plan .gate")].map((gate) => ({
      bar: gate.querySelector(".bar"),
      leaves: [...gate.querySelectorAll(".leaf")].map((leaf) => ({
        leaf, hinge: leaf.getAttribute("transform").split(" rotate")[0],
        base: Number(leaf.dataset.base), way: Number(leaf.dataset.way),
      })),
    }));
    const fronts = [...root.querySelectorAll(".front")].map((front) => ({
      panels: [...front.querySelectorAll(".panel")],
      under: [...front.querySelectorAll(".under")],
      words: front.querySelector(".clear"),
      image: front.querySelector("svg"),
      title: front.querySelector("svg").getAttribute("aria-label").split(":")[0],
    }));
    const rows = [...root.querySelectorAll(".events li")];
    const list = find(".events");
    const times = rows.map((row) => [Number(row.dataset.t)]);
    const slider = find(".time"), now = find(".now"), play = find(".play");
    let time = night.still, playing = 0, before = 0, current = -1;

    const drawPig = (pig, k) => {
      const path = night.paths[k];
      const i = lastUpTo(path, time);
      const state = i < 0 ? "away" : night.states[path[i][4]];
      pig.setAttribute("class", `pig ${state}`);
      if (i < 0 || state === "gone") { pig.setAttribute("display", "none"); return; }
      pig.removeAttribute("display");
      pig.setAttribute("transform", `translate(${between(path, time, 1)} ${between(path, time, 2)})`);
      // its place lies under its body, which is so far ahead of it
      const long = Number(pig.dataset.long);
      const ahead = between(path, time, 5) * long;
      const behind = ahead - long / 2 - night.nameBehind;
      const turn = path[i][3] * Math.PI / 180;
      bodies[k].setAttribute("transform", `rotate(${path[i][3]}) translate(${ahead} 0)`);
      names[k].setAttribute("transform", `translate(${behind * Math.cos(turn)} ${behind * Math.sin(turn)})`);
    };

    const inOpening = (who, k) =>
      night.crossings[who].some((c) => c[0] <= time && time <= c[1] && c[2] === k);
    const clearOf = (front, k) => {
      // a one-way entrance is open only while someone is in it
      if (front.oneWay) return night.crossings.some((_, who) => inOpening(who, k)) ? front.full : 0;
      return front.closing.length ? between(front.closing, time, 1) : front.full;
    };

    const drawFront = (front, k) => {
      const given = night.fronts[k];
      const clear = clearOf(given, k);
      const shut = given.full > 0 ? 1 - clear / given.full : 0;
      front.panels.forEach((panel, n) => {
        if (given.gap) {
          const wide = shut * given.width / given.panels;
          panel.setAttribute("width", wide);
          if (n === 1) panel.setAttribute("x", given.width - wide);
        } else panel.setAttribute("y", -clear - Number(panel.getAttribute("height")));
      });
      const turn = given.closing.length ? between(given.closing, time, 2) : given.turn;
      gates[k].leaves.forEach(({ leaf, hinge, base, way }) =>
        leaf.setAttribute("transform", `${hinge} rotate(${base + way * turn})`));
      if (gates[k].bar) {
        gates[k].bar.setAttribute("stroke-width", 0.06 + 0.14 * shut);
        gates[k].bar.classList.toggle("shut", shut > 0.9999);
      }
      front.words.textContent = given.oneWay ? night.oneWayWords[clear > 0 ? 1 : 0]
        : `${(clear / night.unit.size).toFixed(0)} ${night.unit.sign} clear`;
      front.image.setAttribute("aria-label", `${front.title}: ${front.words.textContent}`);
      front.under.forEach((body, who) => {
        if (inOpening(who, k)) body.removeAttribute("display"); else body.setAttribute("display", "none");
      });
    };

    const released = night.fronts.filter((front) => !front.oneWay);
    const gateWords = () => {
      if (!released.length) return "";
      const shares = released.map((front) => clearOf(front) / front.full);
      const gates = released.length > 1 ? ", gates" : ", gate";
      if (shares.every((share) => share >= 0.9999)) return `${gates} open`;
      return `${gates} ${shares.every((share) => share <= 0.0001) ? "shut" : "closing"}`;
    };

    const mark = () => {
      const i = lastUpTo(times, time);
      if (i === current) return;
      if (rows[current]) rows[current].removeAttribute("aria-current");
      current = i;
      if (!rows[i]) return;
      rows[i].setAttribute("aria-current", "true");
      // keep the row in sight within its own box, without scrolling the page
      const top = rows[i].offsetTop;
      if (top < list.scrollTop || top > list.scrollTop + list.clientHeight - 48) {
        list.scrollTop = top - list.clientHeight / 3;
      }
    };

    const draw = () => {
      pigs.forEach(drawPig);
      fronts.forEach(drawFront);
      const inside = night.inside[lastUpTo(night.inside, time)][1];
      const level = night.bait[lastUpTo(night.bait, time)][1];
      const since = night.first === null ? `${clock(time)} after the trap was set`
        : `${minutes(time - night.first)} after the first pig came (${clock(time)} after the set)`;
      now.textContent = `${since}: ${inside} of ${night.size} inside, ` +
        `bait ${night.baitWords[level]}${gateWords()}.`;
      slider.value = time - night.start;
      slider.setAttribute("aria-valuetext", now.textContent);
      mark();
    };

    const go = (to) => {
      time = Math.min(Math.max(to, night.start), night.stop);
      draw();
    };

    const stop = () => {
      if (!playing) return;
      if (calm.matches) clearTimeout(playing); else cancelAnimationFrame(playing);
      playing = 0;
      play.textContent = "Play";
      now.setAttribute("aria-live", "polite");
    };

    const pace = () => {
      const speed = Number(find(".speed").value);
      const closing = night.release !== null && time > night.release - 0.3 &&
        time < (night.shut === null ? night.release + 2 : night.shut) + 0.3;
      return closing && find(".slow").checked ? Math.min(speed, 0.1) : speed;
    };

    const frame = (stamp) => {
      if (before) {
        // never jump over the closing in one frame at high speed
        const to = time + Math.min(stamp - before, 100) / 1000 * pace();
        const gate = night.release === null ? Infinity : night.release - 0.3;
        go(find(".slow").checked && time < gate && to > gate ? gate + 0.001 : to);
      }
      before = stamp;
      if (time >= night.stop) { stop(); return; }
      playing = requestAnimationFrame(frame);
    };

    const following = () => times.find((row) => row[0] > time + 0.0005);
    const previous = () => times.filter((row) => row[0] < time - 0.0005).pop();

    const stepOn = () => {  // for people who asked for less motion: one event at a time
      const next = following();
      if (!next || next[0] > night.stop) { stop(); return; }
      go(next[0]);
      playing = setTimeout(stepOn, 1200);
    };

    play.addEventListener("click", () => {
      if (playing) { stop(); return; }
      if (time >= night.stop) go(night.start);
      play.textContent = "Pause";
      now.setAttribute("aria-live", "off");
      before = 0;
      playing = calm.matches ? setTimeout(stepOn, 0) : requestAnimationFrame(frame);
    });
    find(".back").addEventListener("click", () => { stop(); const row = previous(); if (row) go(row[0]); });
    find(".next").addEventListener("click", () => { stop(); const row = following(); if (row) go(row[0]); });
    find(".release").addEventListener("click", () => { stop(); go(night.release); });
    find(".release").hidden = find(".check").hidden = night.release === null;
    slider.addEventListener("input", () => { stop(); go(night.start + Number(slider.value)); });
    slider.max = night.stop - night.start;
    rows.forEach((row) => {
      const when = row.querySelector(".when");
      const button = document.createElement("button");
      button.type = "button";
      button.className = "when";
      button.textContent = when.textContent;
      button.addEventListener("click", () => { stop(); go(Number(row.dataset.t)); });
      when.replaceWith(button);
    });
    now.setAttribute("aria-live", "polite");
    find(".controls").hidden = false;
    go(night.still);
  };

  document.querySelectorAll(".replay").forEach(start);
})();
