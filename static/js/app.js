import "./theme-key.js";
import "./nav.js";
import "./sign.js";
import "./once.js";
import "./focus-errors.js";
import "./weigh.js";
import "./tick.js";
import "./copy.js";
