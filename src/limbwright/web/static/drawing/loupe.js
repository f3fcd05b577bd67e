/**
 * A round magnifier in the corner away from the pointer, while something is dragged or placed.
 * @module
 */
import { apply } from "../models/affine.js";
import { drawFilm } from "./film_layer.js";
import { drawShapes } from "./overlay_layer.js";

const MAGNIFIED = 4;

/**
 * @param {CanvasRenderingContext2D} context @param {object} what
 * @param {import("../parts/film_pane.js").Scene} what.scene @param {import("./tile_store.js").TileStore} what.tiles
 * @param {import("./palette.js").Palette} what.palette @param {{wide: number, high: number, ratio: number}} what.screen
 * @param {import("../models/affine.js").Point} what.at_mm @param {import("../models/affine.js").Affine} what.screen_from_mm
 */
export function drawLoupe(context, { scene, tiles, palette, screen, at_mm, screen_from_mm }) {
  const radius = Math.min(palette.rem * 6.5, screen.wide * 0.3);
  const [x, y] = apply(screen_from_mm, at_mm);
  const gap = palette.rem * 0.8;
  const centre_x = x < screen.wide / 2 ? screen.wide - radius - gap : radius + gap;
  const centre_y = y < screen.high / 2 ? screen.high - radius - gap : radius + gap;
  const zoom = Math.abs(screen_from_mm[1][1]) * MAGNIFIED;
  const sign = scene.across_sign;
  /** @type {import("../models/affine.js").Affine} */
  const close = [
    [sign * zoom, 0, centre_x - sign * zoom * at_mm[0]],
    [0, -zoom, centre_y + zoom * at_mm[1]],
  ];
  context.save();
  context.beginPath();
  context.arc(centre_x, centre_y, radius, 0, 2 * Math.PI);
  context.fillStyle = palette.film;
  context.fill();
  context.clip();
  drawFilm(context, { ...scene, film: scene.film, tiles, screen_from_mm: close, screen });
  drawShapes(context, { shapes: scene.shapes, screen_from_mm: close, palette, hidden: scene.hidden });
  drawShapes(context, { shapes: scene.ghosts, screen_from_mm: close, palette, hidden: new Set() });
  context.strokeStyle = palette.line;
  context.lineWidth = 1;
  context.beginPath();
  for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
    context.moveTo(centre_x + 5 * dx, centre_y + 5 * dy);
    context.lineTo(centre_x + (radius / 3) * dx, centre_y + (radius / 3) * dy);
  }
  context.stroke();
  context.restore();
  context.strokeStyle = palette.faint;
  context.lineWidth = 1.5;
  context.beginPath();
  context.arc(centre_x, centre_y, radius, 0, 2 * Math.PI);
  context.stroke();
}
