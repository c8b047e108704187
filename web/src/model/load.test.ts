import { describe, expect, it } from "vitest";
import { readReport } from "./load.js";

const report = {
  share: { "1": 1, "2": 4, "3": 12 },
  most_frequent: [["fall", "Temperature falling", 3]],
  watches: [{ begun: 0, alarms: 17, per_hour_most: 7, in_10_min_most: 3 }],
};

describe("load", () => {
  it("reads the report and refuses what is none", () => {
    expect(readReport({ ...report, hours: 4 })).toEqual(report);
    expect(() => readReport({ ...report, most_frequent: [["fall"]] })).toThrow(
      "report.most_frequent[0]: text expected",
    );
  });
});
