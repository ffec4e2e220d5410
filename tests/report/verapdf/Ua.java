// What veraPDF says of each file against PDF/UA-1 (ISO 14289-1):  java -cp 'JARS/*' Ua.java FILE...
// One line a file, the number of assertions and of those that fail, then a line for each rule that is broken.
import java.io.FileInputStream;
import java.util.TreeMap;
import org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider;
import org.verapdf.pdfa.Foundries;
import org.verapdf.pdfa.flavours.PDFAFlavour;
import org.verapdf.pdfa.results.TestAssertion;

class Ua {
    public static void main(String[] files) throws Exception {
        VeraGreenfieldFoundryProvider.initialise();
        for (String file : files) {
            try (var in = new FileInputStream(file);
                    var parser = Foundries.defaultInstance().createParser(in, PDFAFlavour.PDFUA_1);
                    var validator = Foundries.defaultInstance().createValidator(PDFAFlavour.PDFUA_1, false)) {
                var result = validator.validate(parser);
                var broken = new TreeMap<String, String>();
                for (TestAssertion assertion : result.getTestAssertions()) {
                    var rule = assertion.getRuleId();
                    broken.put(rule.getClause() + "-" + rule.getTestNumber(), assertion.getMessage());
                }
                System.out.println(result.getTotalAssertions() + " " + broken.size() + " " + file);
                broken.forEach((rule, says) -> System.out.println("  " + rule + " " + says));
            }
        }
    }
}
