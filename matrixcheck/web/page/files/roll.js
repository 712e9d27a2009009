import { Roll } from "./rolling.js";

new Roll();
