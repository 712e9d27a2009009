import { Timed } from "./timed_walking.js";

new Timed();
