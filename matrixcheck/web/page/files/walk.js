import { Walk } from "./walking.js";

new Walk();
