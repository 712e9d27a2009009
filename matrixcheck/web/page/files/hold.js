import { Roll } from "./rolling.js";

new Roll({ everyPressCounts: true }).drawn();
